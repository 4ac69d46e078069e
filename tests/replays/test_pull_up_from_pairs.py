"""Owns a retold table: an evaporator sensor's ohms and volts, from which the input resistor follows.

Source: published service figures (degC, kohm, V); each pair alone gives 9.95 to 10.0 kohm at 5.00 V.
"""

from itertools import combinations

import pytest

TABLE = ((-20, 29420, 3.736), (-10, 18010, 3.221), (0, 11360, 2.665), (10, 7362, 2.125), (20, 4892, 1.647),
         (30, 3326, 1.248), (40, 2309, 0.941), (50, 1635, 0.704))
PULL_UP_OHM = 10000.0


@pytest.mark.parametrize("first, second", list(combinations(range(len(TABLE)), 2)))
def test_any_two_pairs_give_the_pull_up_within_a_percent(kb, first, second):
    circuit = {"reference_v": 5.0, "curve": {"quantity": "temperature", "unit": "degC",
                                             "points": [[t, ohm] for t, ohm, _ in TABLE]}}
    job = kb.job("evaporator-temperature", circuit=circuit)
    for _, ohm, volts in (TABLE[first], TABLE[second]):
        job = job.record("substitute", ohm=ohm, signal_to_return_v=volts)
    learned = job.verdict().learned["pull_up_ohm"]
    assert learned.mid == pytest.approx(PULL_UP_OHM, rel=0.01)
    assert learned.low < PULL_UP_OHM < learned.high


def test_the_coolant_table_of_another_input_gives_its_own(kb):
    # 2.5 kohm at 3.53 V, 0.84 kohm at 2.26 V, 0.248 kohm at 1.005 V: about 1.0 kohm (same source, derived).
    job = kb.job("coolant-temperature", circuit={"reference_v": 5.0, "curve": "ntc-2500-20c-coolant"})
    for ohm, volts in ((2500, 3.53), (840, 2.26), (248, 1.005)):
        job = job.record("substitute", ohm=ohm, signal_to_return_v=volts)
    learned = job.verdict().learned["pull_up_ohm"]
    assert learned.low < 1000.0 < learned.high
    assert learned.mid == pytest.approx(1010.0, rel=0.03)


def test_a_warm_and_an_icing_value_follow(kb):
    # Dial a warm value (about 5 kohm) and the 0 degC value: both read as the curve says.
    circuit = {"reference_v": 5.0, "pull_up_ohm": 10000, "curve": "ntc-4900-20c-evaporator"}
    job = kb.job("evaporator-temperature", circuit=circuit, complaint=["P0536"])
    verdict = job.record("substitute", ohm=4892, shows=20).record("substitute", ohm=11360, shows=0).verdict()
    assert verdict.locations["signal"] + verdict.locations["return"] + verdict.locations["module"] < 0.1
    assert any("freez" in c.text.lower() or "ice" in c.text.lower() for c in kb.cautions("evaporator-temperature"))
