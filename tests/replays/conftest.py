"""Owns what the replays share: the knowledge, loaded once, and what a reader shows for ohms on an input."""

from collections.abc import Callable

import pytest

from engine.units import from_degc
from knowledge import load


@pytest.fixture(scope="session")
def kb():
    """The knowledge as shipped."""
    return load()


@pytest.fixture(scope="session")
def shown(kb) -> Callable[..., int]:
    """What a reader shows for `ohm` on a real input resistor where the module assumes another: whole degC kept, then the unit."""

    def number(curve: str, ohm: float, real_ohm: float = 1.0, assumed_ohm: float = 1.0, unit: str = "degF") -> int:
        return round(from_degc(round(float(kb.curve(curve).temperature_at(ohm * assumed_ohm / real_ohm))), unit))

    return number
