"""Owns what a typed reading comes to as numbers, and which number a module may be showing of its own."""

from typing import NamedTuple

from engine.model import Setup
from engine.procedures import TestKind
from engine.quantities import Quantity
from engine.readings import Reading
from engine.units import to_degc

SWEEP_WIDTH = 1.5
DEFAULT_TOLD, DEFAULT_SUSPECTED = 0.8, 0.1


class Term(NamedTuple):
    """One numeric result of a reading: its `kind`, the `value` in SI, the value had the unit been the other, how fast that runs where
    the value runs by one, and half the breadth of a range."""

    reading: int
    kind: str
    value: float
    other: float = 0.0
    runs: float = 1.0
    width: float = 0.0


def terms_of(i: int, reading: Reading, test: TestKind, setup: Setup) -> list[Term]:
    """The numeric results of reading `i`."""
    out, shows = [], reading.shows_c
    if isinstance(shows, tuple) and test.measures == "sweep":
        # Without the end-to-end value the ends of a sweep say only that the number moved; where three wires are swept from
        # rail to rail, the bottom of the scale may come from either end, or be the module's own.
        if setup.stand_in.end_to_end_ohm is not None and not (setup.three_wire and _own_or_bottom(shows[0], setup)):
            out.append(Term(i, "shows", shows[0], *_other_unit(reading.shows[0], reading.unit), SWEEP_WIDTH))
    elif isinstance(shows, tuple):
        typed = reading.shows if isinstance(reading.shows, tuple) else shows
        middle = (typed[0] + typed[1]) / 2
        out.append(Term(i, "shows", (shows[0] + shows[1]) / 2, *_other_unit(middle, reading.unit), (shows[1] - shows[0]) / 2))
    elif isinstance(shows, float):
        out.append(Term(i, "shows", shows, *_other_unit(reading.shows, reading.unit)))
    # A meter on a strobed input shows an average of pulses, and a level sender may be fed from 5 V or from the battery:
    # where nobody told, volts say nothing about the circuit.
    if not setup.circuit.strobed and (setup.circuit.open_v is not None or setup.quantity.id != "level"):
        measured = (("volts-return", reading.signal_to_return_v), ("volts-battery", reading.signal_to_battery_v),
                    ("supply-return", reading.supply_to_return_v), ("supply-battery", reading.supply_to_battery_v),
                    ("return-battery", reading.return_to_battery_v), ("current", reading.signal_ma))
        out += [Term(i, kind, value) for kind, value in measured if value is not None]
    if isinstance(reading.ohms, float):
        out.append(Term(i, "sensor-ohms" if test.measures == "sensor-ohms" else "return-ohms", reading.ohms))
    if reading.at_c is not None and test.at_c is None and test.pins == 2:
        out.append(Term(i, "at", reading.at_c))
    return out


def own_number(terms: tuple[Term, ...], tests: tuple[TestKind, ...], told: float | tuple[float, float] | None,
               scale: Quantity) -> tuple[float | tuple[float, float] | None, float]:
    """The number shown in place of volts out of limits, and how surely it is.

    Told, or suspected: where the same mid-scale number stood under two
    different hook-ups, it may well be the module's own; where different ones
    stood with the plug open or bridged, one that moves.
    """
    if told is not None:
        return told, DEFAULT_TOLD
    seen: dict[int, set[tuple]] = {}
    ends = []
    for term in terms:
        if term.kind == "shows" and term.width == 0.0 and scale.low_ends_from < term.value < scale.high_ends_from:
            test = tests[term.reading]
            seen.setdefault(round(term.value), set()).add((test.element, test.to))
            if test.element in ("open", "short"):
                ends.append(term.value)
    if len({round(value) for value in ends}) > 1:
        return (min(ends), max(ends)), DEFAULT_SUSPECTED
    twice = [value for value, hooked in seen.items() if len(hooked) > 1]
    return (float(max(twice, key=lambda v: (len(seen[v]), -v))), DEFAULT_SUSPECTED) if twice else (None, 0.0)


def _own_or_bottom(lowest: float, setup: Setup) -> bool:
    told = setup.circuit.default_c
    own = () if told is None else told if isinstance(told, tuple) else (told, told)
    return lowest <= setup.quantity.low_ends_from or bool(own and own[0] - SWEEP_WIDTH < lowest < own[1] + SWEEP_WIDTH)


def stood(term: Term, terms: tuple[Term, ...], scale: Quantity) -> int:
    """How many of `terms` show the very number of this one, this one counted; 0 where it is no end of the scale, because
    another lies plainly beyond it."""
    shown = [other.value for other in terms if other.kind == "shows"]
    plainly = max(0.6 * scale.whole, 2.5 * scale.reading_sd)
    if (term.value >= scale.high_ends_from and max(shown) > term.value + plainly) or (
            term.value <= scale.low_ends_from and min(shown) < term.value - plainly):
        return 0
    return sum(abs(value - term.value) < 0.6 * scale.whole for value in shown)


def _other_unit(value: float, unit: str | None) -> tuple[float, float]:
    """The typed number in degC, had it been read in the other unit, and how fast it runs there where it runs by one as typed. At -40, an
    end of the scale and one number in both, it counts as that."""
    unit = unit or "degC"
    other = {"degC": "degF", "degF": "degC"}.get(unit, unit)
    here, there = to_degc(value, unit), to_degc(value, other)
    return there, 1.0 if here == there else (to_degc(value + 1.0, other) - there) / (to_degc(value + 1.0, unit) - here)
