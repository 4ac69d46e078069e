"""Owns a retold case: a sensor whose ohms rise with heat where they are taken to fall, and the other way round.

Source: public threads, retold: 1.01 kohm at 25 degC against 1 kohm at 100 degC assumed for one rising family. Silicon gains about
0.7 to 0.8 % a kelvin (data sheets): 1.01 kohm at 25 degC is about 1.44 kohm at 80.
"""

import pytest

from engine.curve_fits import rising_or_falling
from engine.curves import Curve

NTC = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": "ntc-3400-20c-coolant"}
PTC = {"reference_v": 5.0, "pull_up_ohm": 1000, "curve": "ptc-silicon-1k-25c"}
AT_25, AT_77F, AT_80 = {"value": 25, "unit": "degC"}, {"value": 77, "unit": "degF"}, {"value": 80, "unit": "degC"}
RISING_KIND = "transmission-fluid-temperature"


def test_the_sign_of_the_change_decides_never_its_size():
    assert rising_or_falling(25, 1010, 80, 1440).kind == "PTC"
    assert rising_or_falling(25, 2500, 80, 330).kind == "NTC"
    # One kelvin apart, neither meter nor thermometer can tell.
    assert rising_or_falling(25, 1010, 26, 1018).kind == "undecided"
    assert rising_or_falling(25, 1010, 80, 1440).share_per_k == pytest.approx(0.0065, abs=0.0015)


@pytest.fixture(params=[None, NTC], ids=["nothing told", "circuit told"])
def one_point(request, kb):
    return kb.job("coolant-temperature", circuit=request.param).record("sensor-ohms", ohms="1k01", at=AT_77F)


def test_one_point_alone_names_no_kind(one_point):
    verdict = one_point.verdict()
    assert verdict.state == "open"
    assert verdict.faults[0].id != "sensor-rising"


def test_two_points_name_it_and_the_plug_is_looked_at_first(one_point):
    job = one_point.record("sensor-sweep", ohms=1440, at=AT_80)
    verdict = job.verdict()
    assert verdict.faults[0].id == "sensor-rising"
    assert verdict.faults[0].p > 0.95
    assert verdict.faults[0].estimate.low < 1010.0 < verdict.faults[0].estimate.high
    assert (verdict.state, verdict.missing_proof) == ("open", ("plug-seen",))
    found = job.record("look", good=True).verdict()
    assert (found.state, found.location) == ("found", "sensor")


def test_two_falling_points_never_do(kb):
    job = kb.job("coolant-temperature", circuit=NTC).record("sensor-ohms", ohms=2760, at=AT_25)
    verdict = job.record("sensor-sweep", ohms=330, at=AT_80).verdict()
    assert next(f.p for f in verdict.faults if f.id == "sensor-rising") < 0.001


def test_a_rising_curve_is_bent_between_its_points(kb):
    # Silicon goes as 1 + 0.00788 d + 0.0000194 d^2 with d in kelvin from 25 degC (data sheet law, from memory), platinum as
    # 1 + 0.0039083 t - 0.0000005775 t^2 (IEC 60751): straight lines miss by nearly 3 K half way.
    curve = kb.curve("ptc-silicon-1k-25c")
    assert curve.rising
    assert curve.ohm_at(100.0) == pytest.approx(1696.0)
    assert curve.ohm_at(62.5) == pytest.approx(1322.7, abs=8.0)
    platinum = Curve("", "", tuple((t, 200.0 * (1.0 + 3.9083e-3 * t - 5.775e-7 * t * t)) for t in (0.0, 200.0, 400.0, 600.0)))
    assert platinum.ohm_at(300.0) == pytest.approx(424.1, abs=0.4)


@pytest.fixture
def hot(kb):
    return kb.job(RISING_KIND, circuit=PTC).record("as-found", shows="maximum")


def test_hot_as_found_is_an_open_on_a_rising_sensor(hot):
    # The trap: open reads cold.
    verdict = hot.verdict()
    ids = [f.id for f in verdict.faults[:8]]
    assert {"sensor-open", "plug-open"} <= set(ids)
    assert "sensor-shorted" not in ids


def test_bridged_reads_cold_and_clears_the_wires(hot):
    verdict = hot.record("shorted", shows=-40, unit="degF").verdict()
    assert verdict.locations["sensor"] + verdict.locations["plug"] > 0.7
    assert verdict.locations["signal"] + verdict.locations["return"] < 0.1


def test_cold_when_unplugged_is_a_wire_to_ground_there(kb):
    job = kb.job(RISING_KIND, circuit=PTC).record("as-found", shows=-40).record("unplugged", shows=-40)
    verdict = job.verdict()
    assert verdict.locations["sensor"] + verdict.locations["plug"] < 0.1
    assert next(f for f in verdict.faults if f.location == "signal").id == "signal-leak-ground"


def test_cold_when_unplugged_does_not_pass_for_in_order_there(kb):
    # A good number as found, the low end when unplugged: right for a falling sensor, and said not to fit here.
    readings = (("as-found", 77), ("unplugged", "minimum"))
    verdicts = {}
    for kind, circuit in ((RISING_KIND, PTC), ("coolant-temperature", NTC)):
        job = kb.job(kind, circuit=circuit)
        for test, shows in readings:
            job = job.record(test, shows=shows, **({"unit": "degF"} if isinstance(shows, int) else {}))
        verdicts[kind] = job.verdict()
    assert (verdicts[RISING_KIND].state, verdicts[RISING_KIND].misfit) == ("nothing-fits", 1)
    assert verdicts["coolant-temperature"].misfit is None


def test_ohms_of_a_contact_weigh_more_on_it(kb):
    # 20 ohm are a sixth of a degree on a falling sensor at 25 degC and more than two degrees on a rising one.
    rising, falling = kb.curve("ptc-silicon-1k-25c"), kb.curve("ntc-3400-20c-coolant")
    off = [float(c.temperature_at(c.ohm_at(25.0) + 20.0)) - 25.0 for c in (rising, falling)]
    assert off[0] == pytest.approx(2.4, abs=0.4)
    assert -0.3 < off[1] < 0.0
