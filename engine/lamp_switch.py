"""Owns a lamp switched through a self-heated thermistor: between which ohms it switches, what to try next, what its sensor must reach."""

import math
from typing import NamedTuple

from engine.errors import ContradictionError, InputError
from engine.units import finite

# Where nothing was tried yet: in the middle of the thresholds met, 60 to 850 ohm (published threads); then by this factor
# until the lamp has been seen both lit and dark.
FIRST_OHM, STRIDE = 220.0, 3.0
LOWEST_OHM, HIGHEST_OHM = 1.0, 1e5
# A battery at rest (common practice, no source).
USUAL_FEED_V = 12.6
# A bracket this narrow is known as well as fixed resistors come (E24).
NARROW = 1.1


class Trial(NamedTuple):
    """Ohms [ohm] put in the thermistor's place, and whether the lamp lit."""

    ohm: float
    lit: bool


class Bracket(NamedTuple):
    """Where the lamp switches: it is lit up to `lit_ohm` and dark from `dark_ohm` [ohm] on, None where not seen yet.

    `next_ohm` halves what is between, in ratio; None once it is narrow.
    """

    lit_ohm: float | None
    dark_ohm: float | None
    next_ohm: float | None


def bracket(trials: tuple[Trial, ...]) -> Bracket:
    """Between which ohms the lamp switches, from any number of trials in any order.

    A heated thermistor falls in ohms in air and the lamp lights below a
    threshold. Raises ContradictionError where the lamp was lit above ohms at
    which it was dark.

    >>> bracket((Trial(56.0, True), Trial(68.0, False))).next_ohm.__round__(1)
    61.7
    """
    for trial in trials:
        finite(trial.ohm, "the ohms tried", LOWEST_OHM, HIGHEST_OHM, f"ohms from {LOWEST_OHM:g} to {HIGHEST_OHM:g}")
    lit = max((trial.ohm for trial in trials if trial.lit), default=None)
    dark = min((trial.ohm for trial in trials if not trial.lit), default=None)
    if lit is not None and dark is not None:
        if lit >= dark:
            raise ContradictionError("the ohms tried", lit, f"lit here and dark at {dark:g}: let it settle and try both again")
        return Bracket(lit, dark, math.sqrt(lit * dark) if dark > NARROW * lit else None)
    wanted = FIRST_OHM if lit is None and dark is None else lit * STRIDE if dark is None else dark / STRIDE
    return Bracket(lit, dark, wanted if LOWEST_OHM <= wanted <= HIGHEST_OHM else None)


def series_ohm(ohm: float, drop_v: float, feed_v: float) -> float:
    """Ohms [ohm] in series with `ohm` that leave `drop_v` of `feed_v` on it; Ohm's law.

    >>> series_ohm(160.0, 7.0, 12.0).__round__(1)
    114.3
    """
    if not 0.0 < drop_v < feed_v:
        raise InputError("the volts over the resistor", drop_v, f"they lie between 0 and the feed's {feed_v:g} V")
    return ohm * (feed_v - drop_v) / drop_v


def thermistor(found: Bracket, in_air_ohm: float, in_liquid_ohm: float) -> str:
    """What a thermistor's ohms [ohm], settled under its working current, do to a lamp bracketed by `found`.

    "works"; "never-lights" where its ohms in air stay on the dark side,
    "never-goes-out" where those in liquid are on the lit side; "open" where
    the bracket does not say.
    """
    if found.dark_ohm is not None and in_air_ohm >= found.dark_ohm:
        return "never-lights"
    if found.lit_ohm is not None and in_liquid_ohm <= found.lit_ohm:
        return "never-goes-out"
    lights = found.lit_ohm is not None and in_air_ohm <= found.lit_ohm
    goes_out = found.dark_ohm is not None and in_liquid_ohm >= found.dark_ohm
    return "works" if lights and goes_out else "open"


def most_watts(ohm: float, feed_v: float) -> float:
    """The most [W] a resistor `ohm` [ohm] carries in series with anything on `feed_v` [V]: all of it on the resistor."""
    return feed_v * feed_v / ohm
