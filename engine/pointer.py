"""Owns how a needle or a row of segments is read: words of a scale become a range of it, in percent."""

import re

# A needle is read to the nearest eighth of its scale; half of that to either side, and at a mark at the end next to nothing.
HALF_EIGHTH = 6.25
AT_END = 2.0
MOST_SEGMENTS = 40
BEYOND = {"below e": "minimum", "below empty": "minimum", "above f": "maximum", "above full": "maximum"}
ENDS = {"e": 0.0, "empty": 0.0, "f": 100.0, "full": 100.0}
FRACTIONS = ("E", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8", "F")
EXPECTED = "1/4, E, F or 3 of 8"


def pointer(text: str) -> tuple[float, float] | str | None:
    """Range [percent of the scale] a needle or segments stand in, "minimum" or "maximum" beyond it, None for anything else.

    >>> pointer("1/2"), pointer("3 of 8"), pointer("below E")
    ((43.75, 56.25), (31.25, 43.75), 'minimum')
    """
    said = " ".join(text.lower().replace("-", " ").split())
    if said in BEYOND:
        return BEYOND[said]
    if said in ENDS:
        return _around(ENDS[said], HALF_EIGHTH)
    part = re.fullmatch(r"(\d{1,2}) ?(/|of) ?(\d{1,2})(?: segments)?", said)
    if part is None:
        return None
    count, out_of = int(part[1]), int(part[3])
    if not 1 <= out_of <= MOST_SEGMENTS or count > out_of:
        return None
    return _around(100.0 * count / out_of, HALF_EIGHTH if part[2] == "/" else 50.0 / out_of)


def _around(middle: float, half: float) -> tuple[float, float]:
    """`middle` give or take `half`; at an end of the scale, that end."""
    if middle in (0.0, 100.0):
        return (0.0, AT_END) if middle == 0.0 else (100.0 - AT_END, 100.0)
    return middle - half, middle + half
