"""Owns a retold case: -40 on the car with a sensor in spec, and an input resistor that changes with who else feeds the wire.

Source: public thread, retold; open. The helpers there: -40 degF means that the input sees an open; 2490 ohm to be assumed
alone, 1544 ohm in parallel with the original module, 790 ohm with its resistor changed as well. Ohms at a temperature and
numbers shown are arithmetic on the curve.
"""

import pytest

from engine.input_fits import feeds_together, other_feed_ohm

CURVE = "ntc-3400-20c-coolant"
CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": CURVE}
ALONE_OHM, TOGETHER_OHM, CHANGED_OHM = 2490.0, 1544.0, 790.0
OTHER_OHM = other_feed_ohm(TOGETHER_OHM, ALONE_OHM)
DIALLED = (3400, 1200, 330)


@pytest.fixture
def in_spec(kb):
    job = kb.job("coolant-temperature", circuit=CIRCUIT).record("as-found", shows=-40, unit="degF")
    return job.record("sensor-ohms", ohms="3.2k", at={"value": 70, "unit": "degF"})


@pytest.fixture
def still_open(in_spec):
    return in_spec.record("shorted", shows=-40, unit="degF")


def test_a_sensor_in_spec_leaves_an_open_before_the_module(in_spec):
    verdict = in_spec.verdict()
    assert verdict.state == "open"
    assert verdict.locations["sensor"] < 0.05
    assert verdict.locations["plug"] + verdict.locations["signal"] + verdict.locations["return"] > 0.85
    assert "shorted" in [a.test for a in in_spec.advice()[:3]]


def test_a_short_that_reads_hot_leaves_the_plug(in_spec):
    job = in_spec.record("shorted", shows=284, unit="degF")
    verdict = job.verdict()
    assert max(verdict.locations, key=verdict.locations.get) == "plug"
    assert verdict.locations["plug"] > 0.75
    assert {"terminal-fit", "look"} & {a.test for a in job.advice()}
    loose = job.record("terminal-fit", good=False).verdict()
    assert (loose.state, loose.location) == ("found", "plug")


def test_a_short_that_stays_cold_leaves_wire_return_or_module(still_open):
    verdict = still_open.verdict()
    assert verdict.state == "open"
    assert verdict.locations["sensor"] + verdict.locations["plug"] < 0.02
    assert min(verdict.locations["signal"], verdict.locations["return"]) > 0.2
    assert still_open.advice()[0].test in ("substitute-to-chassis", "return-ohms")


def test_right_at_the_modules_pin_is_the_harness(still_open, shown):
    job = still_open.record("substitute-at-module", ohm=330, shows=shown(CURVE, 330), unit="degF")
    verdict = job.verdict()
    assert verdict.locations["module"] < 0.01
    assert verdict.locations["signal"] + verdict.locations["return"] > 0.98
    dead = job.record("substitute-to-chassis", ohm=330, shows=-40, unit="degF").verdict()
    assert (dead.state, dead.location) == ("found", "signal")


def test_cold_at_the_modules_pin_too_is_not_the_harness(still_open):
    verdict = still_open.record("substitute-at-module", ohm=330, shows=-40, unit="degF").verdict()
    assert max(verdict.locations, key=verdict.locations.get) == "module"
    assert verdict.locations["signal"] + verdict.locations["return"] < 0.02
    # -40 is also what an item shows that this module does not have: not found before that is told apart.
    assert verdict.state != "found"
    assert verdict.locations["set-up"] > 0.1


def test_two_feeds_are_one_feed_through_both_resistors_side_by_side():
    volts, ohm = feeds_together([5.0, 5.0], [ALONE_OHM, OTHER_OHM])
    assert (volts, ohm) == (pytest.approx(5.0), pytest.approx(TOGETHER_OHM))
    assert OTHER_OHM == pytest.approx(4064.0, abs=1.0)


def _dialled(kb, shown, circuit, real_ohm, assumed_ohm):
    job = kb.job("coolant-temperature", circuit={**CIRCUIT, **circuit})
    for ohm in DIALLED:
        job = job.record("substitute", ohm=ohm, shows=shown(CURVE, ohm, real_ohm, assumed_ohm), unit="degF")
    return job.verdict()


def test_a_known_second_feed_is_no_fault(kb, shown):
    # The module still assumes its own resistor: its numbers are too cold by rule, and in order once it is told.
    told = {"second_instrument": {"open_v": 5.0, "pull_up_ohm": OTHER_OHM}}
    verdict = _dialled(kb, shown, told, TOGETHER_OHM, ALONE_OHM)
    assert verdict.misfit is None
    assert verdict.locations["module"] + verdict.locations["signal"] < 0.05


def test_an_unknown_second_feed_is_named_beside_the_module(kb, shown):
    verdict = _dialled(kb, shown, {}, TOGETHER_OHM, ALONE_OHM)
    assert verdict.state == "open"
    assert verdict.locations["module"] + verdict.locations["signal"] > 0.98
    second = next(f for f in verdict.faults if f.id == "second-instrument")
    assert second.p > 0.1
    assert second.estimate.low < OTHER_OHM < second.estimate.high


@pytest.mark.parametrize("assumed", [ALONE_OHM, TOGETHER_OHM, CHANGED_OHM])
@pytest.mark.parametrize("real", [ALONE_OHM, TOGETHER_OHM, CHANGED_OHM])
def test_no_input_resistor_is_built_in(kb, shown, real, assumed):
    # The number is right where the module assumes what is there, whatever that is.
    verdict = _dialled(kb, shown, {"pull_up_ohm": assumed}, real, assumed)
    wire_and_module = sum(verdict.locations[place] for place in ("signal", "return", "module", "supply"))
    if real == assumed:
        assert wire_and_module < 0.06
    else:
        assert wire_and_module > 0.95
