"""Owns what the replays share: what a reader shows for ohms on an input."""

from collections.abc import Callable

import pytest

from engine.units import from_degc


@pytest.fixture(scope="session")
def shown(kb) -> Callable[..., int]:
    """What a reader shows for `ohm` on a real input resistor where the module assumes another: whole degC kept as one byte
    less 40 (SAE J1979), then the unit."""

    def number(curve: str, ohm: float, real_ohm: float = 1.0, assumed_ohm: float = 1.0, unit: str = "degF") -> int:
        kept = min(max(round(float(kb.curve(curve).temperature_at(ohm * assumed_ohm / real_ohm))), -40), 215)
        return round(from_degc(kept, unit))

    return number
