"""Owns the proof that chances and severities equal dense quadrature where only three quantities are free.

Ten cases: location chances within 0.005, the severity's middle within 2 % (0.5 degC where a severity may be zero).
"""

import numpy as np
import pytest

from engine.ranked import quantiles
from engine.belief import believe
from engine.readings import Reading as R

from .accuracy_circuits import setup
from .accuracy_quadrature import FewUnknowns, integrate, median_severity

AT = (21.0, "degC")
FEW = ("sensor-open", "sensor-high", "sensor-wrong", "plug-contact", "signal-to-ground", "return-added", "return-raised",
       "input-high", "supply-low", "frozen", "true", "beside", "signal-loose")
# name: set-up, free unknowns, readings.
CASES = {
    "nothing read, only the complaint": (setup(faults=FEW, signs=("implausible",)), ("part", "true"), ()),
    "one vague reading": (setup(faults=FEW), ("part", "sensor"), (R("as-found", shows=12.0),)),
    "sharp: an ohmmeter on the return": (
        setup(faults=FEW), ("part", "sensor"),
        (R("as-found", shows=19.0), R("substitute", ohm=330.0, shows=61.0), R("return-ohms", ohms=249.0))),
    "sharp: an ohmmeter on the sensor": (
        setup(faults=FEW), ("sensor", "thermometer"),
        (R("as-found", shows=11.0), R("sensor-ohms", ohms=3610.0, at=AT))),
    "the cold end": (setup(faults=FEW), ("part", "true"), (R("as-found", shows=-40.0), R("substitute", ohm=330.0, shows=79.0))),
    "the word maximum": (
        setup(faults=FEW + ("sensor-shorted",)), ("part", "true"),
        (R("as-found", shows="maximum"), R("unplugged", shows="maximum"), R("plug-volts", signal_to_return_v=0.06))),
    "a frozen number": (
        setup(faults=FEW), ("part", "true"),
        (R("as-found", shows=35.0), R("unplugged", shows=35.0), R("shorted", shows=35.0))),
    "another family's curve": (
        setup(faults=FEW), ("second", "true"),
        (R("as-found", shows=38.0), R("sensor-ohms", ohms=1190.0, at=AT),
         R("substitute", ohm=330.0, shows=80.0))),
    "a number that jumps": (
        setup(faults=FEW), ("part", "true"),
        (R("as-found", shows="jumps"), R("as-found", shows=21.0), R("substitute", ohm=2500.0, shows=20.0))),
    "a raised return, by volts and chassis": (
        setup(faults=FEW), ("ground", "open"),
        (R("as-found", shows=12.0), R("plug-volts", signal_to_return_v=4.52),
         R("substitute-to-chassis", ohm=330.0, shows=80.0))),
    "an input nobody knows": (
        setup(known=False, faults=("sensor-high", "signal-added", "return-added", "true")),
        ("source", "true"),
        (R("as-found", shows=14.0), R("substitute", ohm=330.0, shows=72.0), R("substitute", ohm=2500.0, shows=18.0))),
}


@pytest.mark.parametrize("name", CASES)
def test_chances_and_severity_equal_quadrature(name):
    made, free, readings = CASES[name]
    model = FewUnknowns(made, free)
    chance, cells = integrate(model, readings)
    belief = believe(model, readings)
    for location, p in belief.by_location().items():
        assert p == pytest.approx(chance[model.locations == location].sum(), abs=0.005), location
    for row in np.flatnonzero(chance > 0.2):
        if model.kinds[row].severity_low is None:
            continue
        mid = median_severity(model, row, cells[row])
        _, share, _, weight = belief.weighted(np.array([row]))
        found = quantiles(model.severity(share[None], np.array([row]))[0], weight, (0.5,))[0]
        assert found == pytest.approx(mid, rel=0.02, abs=0.5 if model.kinds[row].unit == "degC" else 0.0), model.kinds[row].id


@pytest.mark.parametrize("name", ["sharp: an ohmmeter on the return", "another family's curve"])
def test_quadrature_is_dense_enough(name):
    made, free, readings = CASES[name]
    model = FewUnknowns(made, free)
    fine, coarse = integrate(model, readings, 700, 25)[0], integrate(model, readings)[0]
    assert np.abs(fine - coarse).max() < 5e-4
