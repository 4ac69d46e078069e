"""Owns the errors of the house: a small family by meaning, each one sentence saying what, where and what would be right."""


class OhmwrightError(ValueError):
    """Root of the family; `str()` is the one sentence a technician may read."""


class InputError(OhmwrightError):
    """Something typed is unusable.

    Attributes: `where` (field path such as ``readings[2].ohm``), `got` (the
    offending value as text) and `wanted` (what would be right).
    """

    def __init__(self, where: str, got: object, wanted: str) -> None:
        self.where = where
        self.got = _short(got)
        self.wanted = wanted
        super().__init__(f"{where} is {self.got}: {wanted}.")


class ContradictionError(InputError):
    """Two things typed cannot both hold; `where` names both fields."""


class RefusedError(OhmwrightError):
    """A sensor kind that must not, or cannot, be replaced by a stand-in.

    Attributes: `sensor`, `reason`, `instead` (the check the trade uses) and
    `caution`; never a value to dial.
    """

    def __init__(self, sensor: str, reason: str, instead: str, caution: str) -> None:
        self.sensor = sensor
        self.reason = reason
        self.instead = instead
        self.caution = caution
        super().__init__(f"{sensor} takes no stand-in: {reason} Instead: {instead}")


class KnowledgeError(OhmwrightError):
    """A row of the knowledge is broken; says file, row and what would be right."""


def _short(value: object, limit: int = 60) -> str:
    try:
        text = value if isinstance(value, str) else repr(value)
    except ValueError:
        # Python refuses to print whole numbers of thousands of digits.
        text = "a number too large"
    text = "".join(c if c.isprintable() else " " for c in text)
    if isinstance(value, str):
        text = f'"{text}"'
    return text if len(text) <= limit else text[: limit - 1] + "…"
