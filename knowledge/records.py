"""Owns the records: what each row of the knowledge is once read, frozen, one class a file."""

from pydantic import BaseModel, ConfigDict


class Record(BaseModel):
    """A frozen row; its fields are the columns columns.csv lists for its file."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Source(Record):
    """Where a fact stands, and how firm it is."""

    id: str
    standing: str
    citation: str

    @property
    def label(self) -> str:
        """What is shown for it: the citation."""
        return self.citation


class Location(Record):
    """Where the hand goes; `gauge_label` is its name where a gauge reads the sender, empty where that is the same."""

    id: str
    label: str
    gauge_label: str = ""
    where: str
    source: str


class Caution(Record):
    """What is said where the hand acts; `severity` is danger, warning or note."""

    id: str
    severity: str
    text: str
    source: str

    @property
    def label(self) -> str:
        """What is shown for it: the text."""
        return self.text


class CurvePoint(Record):
    """One published point: degC, or percent of a level, and ohms, with the stated range where there is one."""

    degc: float | None = None
    percent: float | None = None
    ohm: float
    ohm_low: float | None = None
    ohm_high: float | None = None

    @property
    def value(self) -> float:
        """degC, or percent of a level."""
        return self.degc if self.degc is not None else self.percent


class CurveRow(Record):
    """A published curve; `points` are filled from its own file, or from `form` and `coefficients` (curve_forms.py)."""

    id: str
    label: str
    quantity: str
    form: str = ""
    coefficients: tuple[float, ...] = ()
    low_c: float | None = None
    high_c: float | None = None
    step_c: float | None = None
    tolerance_percent: float | None = None
    warning: str = ""
    source: str
    points: tuple[CurvePoint, ...] = ()


class InputRow(Record):
    """A module input met in practice: volts open and shorted, input resistor [ohm]; None is not known."""

    id: str
    label: str
    reference_v: float
    open_v: float
    short_v: float
    pull_up_ohm: float
    second_pull_up_ohm: float | None = None
    switch_at_c: float | None = None
    switch_band_c: float | None = None
    strobed: bool | None = None
    default_low_c: float | None = None
    default_high_c: float | None = None
    latched: bool | None = None
    settle_s: float | None = None
    low_limit_v: float | None = None
    high_limit_v: float | None = None
    source: str


class StandInKind(Record):
    """A kind of stand-in, the usual one in hand, and what it can do."""

    id: str
    label: str
    kind: str
    end_to_end_ohm: float | None = None
    turns: float | None = None
    watts: float | None = None
    use: str
    limits: str
    source: str


class CircuitKind(Record):
    """How sensor kinds are wired to what reads them; `case_grounded`: one wire, the sender's body is the return.

    `three_wire` says what sits between supply and return of a plug that has
    both: a track, an output-stage or two-tracks; "" on all others.
    """

    id: str
    label: str
    case_grounded: bool
    three_wire: str = ""
    summary: str
    source: str


class Action(Record):
    """A repair and the step that proves it; `minutes` and `price` are the shop's to edit."""

    id: str
    label: str
    repair: str
    minutes: float
    price: float
    proof: str
    cautions: tuple[str, ...] = ()
    source: str


class Fault(Record):
    """One thing that can be wrong, or two that go together (`also_effect`); build.py makes the engine's FaultKind of it.

    `quantity` names the one kind of sensor that can have it, `needs` what the circuit must have.
    """

    id: str
    location: str
    label: str
    effect: str
    chance: float
    severity_low: float | None = None
    severity_high: float | None = None
    unit: str = ""
    also_effect: str = ""
    also_low: float | None = None
    also_high: float | None = None
    also_unit: str = ""
    needs: str = ""
    quantity: str = ""
    intermittent: bool
    action: str
    source: str


class Test(Record):
    """One thing a technician does that yields a reading: what predicts it, and what the hand does."""

    __test__ = False  # a record, not a test case

    id: str
    label: str
    element: str
    to: str = ""
    measures: str
    minutes: float
    state: str
    proof: str = ""
    needs: str = ""
    at_c: float | None = None
    false_alarm: float | None = None
    hand: tuple[str, ...]
    connect: str
    key: str
    proves: str
    cautions: tuple[str, ...] = ()
    source: str


class TestWording(Record):
    """What a test's words, and what it connects and reads, are on circuits of one kind; a blank keeps the test's own."""

    __test__ = False  # a record, not a test case

    test: str
    circuit_kind: str
    element: str = ""
    measures: str = ""
    proof: str = ""
    label: str = ""
    hand: tuple[str, ...] = ()
    connect: str = ""
    proves: str = ""
    cautions: tuple[str, ...] = ()
    source: str


class Outcome(Record):
    """One thing a reading of a kind can say; every test that reads so can show it."""

    measures: str
    id: str
    label: str
    source: str


class BadChance(Record):
    """Chance that a test judged by eye or hand finds a fault."""

    test: str
    fault: str
    chance: float
    source: str


class Admission(Record):
    """Whether a circuit kind admits or refuses a test, with the reason of a refusal."""

    circuit_kind: str
    test: str
    answer: str
    reason: str = ""
    source: str


class SensorKind(Record):
    """A kind of sensor; the family fields describe curves nobody listed and are blank for refused kinds."""

    id: str
    label: str
    words: tuple[str, ...] = ()
    quantity: str = ""
    held: bool = False
    circuit_kind: str
    assumed_input: str | None = None
    live_item: str
    live_step_c: float | None = None
    live_source: str | None = None
    low_c: float | None = None
    high_c: float | None = None
    ohm_25: float | None = None
    ln_ohm_25_sd: float | None = None
    beta_k: float | None = None
    beta_sd_k: float | None = None
    family_weight: float | None = None
    track_ohm: float | None = None
    rest: float | None = None
    rest_sd: float | None = None
    key_state: str
    summary: str
    cautions: tuple[str, ...] = ()
    source: str

    @property
    def in_percent(self) -> bool:
        """Whether it is read in percent, of a level or of a gauge's scale."""
        return self.quantity in ("level", "gauge")


class Share(Record):
    """Two sensor kinds that share a housing, a supply or a return, and the sentence to know about it."""

    sensor: str
    partner: str
    what: str
    sentence: str
    source: str


class UsualCurve(Record):
    """A curve a sensor kind usually follows, with its share among the listed ones."""

    sensor: str
    curve: str
    weight: float
    source: str


class UsualInput(Record):
    """An input a sensor kind is met on."""

    sensor: str
    input: str
    source: str


class Acknowledged(Record):
    """A finding of the check that is listed and not counted."""

    finding: str
    because: str
    source: str
