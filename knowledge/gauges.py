"""Owns what a battery-fed gauge makes of a case: its feed, and the families, listed or not, that go as the technician saw."""

from dataclasses import replace

import numpy as np

from engine.circuit import InputCircuit
from engine.curves import Curve
from engine.errors import ContradictionError
from engine.stand_in import StandIn

# What is put on a gauge is wire-wound; where nobody typed its watts, these.
WIRE_WOUND_WATTS = 5.0
# Families nobody listed: shapes of the scale, both ways, straight and bent, of any ohms about these; so many vehicles have
# one, and a scale nobody told is read this much less surely (common practice, no source).
SHAPES = ((20.0, 80.0), (8.0, 100.0), (1.5, 90.0), (120.0, 30.0), (120.0, 8.0), (150.0, 40.0, 10.0), (90.0, 28.0, 12.0))
SHAPES_WEIGHT, SHAPES_LN_SD = 0.15, 0.7
UNTOLD_READING_SD = 6.0


def fed_from_battery(circuit: InputCircuit) -> InputCircuit:
    """`circuit` as a gauge's: a pointer on the current of its coil, fed from the battery where no other volts were told."""
    return replace(circuit, pointer=True, open_v=circuit.open_v if circuit.open_v is not None else circuit.battery_v)


def wire_wound(stand_in: StandIn, typed: dict) -> StandIn:
    """`stand_in` with the watts of wire-wound parts where it is fixed resistors and `typed` does not say theirs."""
    return stand_in if stand_in.kind != "fixed" or "watts" in typed else replace(stand_in, watts=WIRE_WOUND_WATTS)


def open_end(curve: Curve) -> str:
    """Where a pointer goes with the plug open: "low" where its ohms fall towards full, else "high"."""
    return "high" if curve.rising else "low"


def that_go(curves: tuple[tuple[Curve, float], ...], open_goes: str | None) -> tuple[tuple[Curve, float], ...]:
    """The `curves` with their weights whose pointer goes to the end `open_goes` with the plug open; all where nobody told.

    Raises ContradictionError where none does.
    """
    left = tuple((curve, weight) for curve, weight in curves if open_goes in (None, open_end(curve)))
    if not left:
        raise ContradictionError("circuit.open_goes", open_goes, f"the curve given goes {open_end(curves[0][0])} with the plug open")
    return left


def with_unlisted(curves: tuple[tuple[Curve, float], ...]) -> tuple[tuple[Curve, float], ...]:
    """`curves` and, for SHAPES_WEIGHT of the vehicles, shapes nobody listed that go the same ways."""
    ways = {open_end(curve) for curve, _ in curves}
    shapes = [Curve(f"unlisted-{number}", "another family", tuple(zip(np.linspace(0.0, 100.0, len(ohms)).tolist(), ohms, strict=True)),
                    "level", loose=True) for number, ohms in enumerate(SHAPES)]
    shapes = [shape for shape in shapes if open_end(shape) in ways]
    listed = tuple((curve, weight * (1.0 - SHAPES_WEIGHT)) for curve, weight in curves)
    return (*listed, *((shape, SHAPES_WEIGHT / len(shapes)) for shape in shapes))
