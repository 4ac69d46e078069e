"""Owns the records of what is asked first: codes, symptoms, items of live data, what they point to, and what is refused."""

from knowledge.records import Record

# What a refusal can rest on, gravest first: a hazard comes before everything else known of a kind.
RANKS = ("hazard", "signal", "data")


class Refusal(Record):
    """Why a sensor kind takes no stand-in, the check used instead, and the caution; never a value.

    `kind` is one of RANKS: somebody may be hurt, the signal is of a kind no
    stand-in can make, or the figures are not known. Of several the gravest counts.
    `worked_out` names what works the check out from what it showed: a lamp's
    switching by ohms; empty where nothing is to be worked out.
    """

    sensor: str
    kind: str
    reason: str
    instead: str
    caution: str
    worked_out: str = ""
    source: str


class LiveItem(Record):
    """A standard item of live data: one value is count * `step` + `offset` in `unit`; `low` and `high` as printed."""

    id: str
    label: str
    bytes: int
    support_byte: bool
    value_bytes: int
    step: float
    offset: float
    signed: bool
    low: float
    high: float
    unit: str
    source: str

    @property
    def ends(self) -> tuple[float, float]:
        """Lowest and highest value its own formula gives."""
        counts = 256 ** self.value_bytes
        lowest = -counts // 2 if self.signed else 0
        return lowest * self.step + self.offset, (lowest + counts - 1) * self.step + self.offset


class Code(Record):
    """A trouble code; small x in its id stands for any hexadecimal digit.

    `enable` says under which running conditions it can set at all, where that is published.
    """

    id: str
    label: str
    kind: str
    enable: str = ""
    enable_source: str | None = None
    source: str


class Symptom(Record):
    """What brought the vehicle in, in a technician's words."""

    id: str
    label: str
    words: tuple[str, ...] = ()
    source: str


class Implication(Record):
    """A complaint pointing to a sensor kind: share and sign."""

    complaint: str
    sensor: str
    weight: float
    sign: str
    source: str
