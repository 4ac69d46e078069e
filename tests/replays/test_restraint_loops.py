"""Owns a retold argument over airbag loops: public advice contradicts itself, and the only answer is to keep off.

Source: public threads and service texts, retold: some advice steps resistors at the harness, the makers' manuals forbid any meter.
"""

import re

import pytest

from engine.errors import RefusedError

# Loop figures, the kilohm mistaken for the ohm, five ten-ohm parts in parallel, the wire's own side.
TYPED = [2.2, 2200, 2.0, 1.0, 10.0, 6.3, 22000, "2k2", 0]


@pytest.mark.parametrize("ohm", TYPED)
@pytest.mark.parametrize("sensor", ["restraint-circuit", "crash-sensor", "seat-occupancy", "belt-buckle-switch"])
def test_no_value_whatever_is_typed(kb, sensor, ohm):
    with pytest.raises(RefusedError) as caught:
        kb.job(sensor, complaint=["B0012"], readings=[{"test": "substitute", "ohm": ohm, "shows": 20}],
               stand_in={"kind": "fixed", "ohms": [ohm]})
    assert not re.search(r"\d", str(caught.value))


def test_the_reason_the_procedure_and_the_tool_are_named(kb):
    refusal = kb.refusal("restraint-circuit")
    assert "shorting bars" in refusal.reason and "fire" in refusal.reason
    assert "maker's procedure" in refusal.instead and "approved load tool" in refusal.instead and "once for each key-on" in refusal.instead
    assert "never leave a resistor in" in refusal.instead and "licensed" in refusal.caution


def test_that_public_advice_contradicts_the_manuals_stands_beside_it(kb):
    assert "contradicts" in kb.source("refuse-restraint").citation
