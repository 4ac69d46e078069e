"""Owns retold service texts: on an open or a short the reader shows a number the module made up, not the circuit.

Source: published service figures. One design shows 40 degC at key-on and 80 after four minutes; one steers by 80 while the reader
stands at -40 or at 140 and above; one takes the intake's number above 4.91 V; one shows -20 at the start and 60 when running, on
1 kohm, 3550 ohm at 20 degC and 180 ohm at 100 degC. Numbers in range are arithmetic on the curve.
"""

import pytest

CURVE = "ntc-2500-20c-coolant"
RISING = {"reference_v": 5.0, "pull_up_ohm": 1000, "curve": CURVE, "default": [40, 80], "latched": True}
COLD_OR_WARM = {"reference_v": 5.0, "pull_up_ohm": 1000, "default": [-20, 60], "low_limit_v": 0.2, "high_limit_v": 4.9,
                "curve": {"quantity": "temperature", "unit": "degC", "points": [[20, 3550], [100, 180]]}}
WIRES = ("signal", "return")
STAND_IN_STEPS = ("live-number", "unplugged", "shorted", "substitute", "substitute-to-chassis", "substitute-at-module")


@pytest.fixture
def made_up(kb):
    return kb.job("coolant-temperature", circuit=RISING).record("as-found", shows=40).record("unplugged", shows=40)


def _undecided(verdict):
    return verdict.state == "open" and max(verdict.locations.values()) < 0.5


@pytest.mark.parametrize("later", [("unplugged", 80), ("shorted", 60), ("shorted", 40)])
def test_neither_harness_nor_module_is_concluded_from_it(made_up, later):
    # The trap: 40 degC when unplugged means that the harness is shorted part way, or the module bad.
    assert _undecided(made_up.verdict())
    after = made_up.record(later[0], shows=later[1]).verdict()
    assert _undecided(after)
    assert after.misfit is None


def test_unplugging_alone_says_little(kb):
    before = kb.job("coolant-temperature", circuit=RISING).verdict().locations
    after = kb.job("coolant-temperature", circuit=RISING).record("unplugged", shows=40).verdict().locations
    assert all(after[place] == pytest.approx(before[place], abs=0.1) for place in before)


def test_values_in_range_come_before_further_opens_and_shorts(made_up):
    steps = [a.test for a in made_up.record("shorted", shows=60).advice()]
    in_range = next(i for i, test in enumerate(steps) if test in ("live-number", "substitute", "plug-volts"))
    assert in_range <= 1
    assert not {"unplugged", "shorted"} & set(steps[:in_range])


def test_values_in_range_that_follow_clear_wire_and_module(made_up, shown):
    job = made_up
    for ohm in (330, 1200):
        job = job.record("substitute", ohm=ohm, shows=shown(CURVE, ohm, unit="degC"))
    verdict = job.verdict()
    assert verdict.locations["module"] < 0.05
    assert verdict.locations["signal"] + verdict.locations["return"] < 0.1
    assert verdict.locations["sensor"] + verdict.locations["plug"] > 0.75


@pytest.mark.parametrize("test", STAND_IN_STEPS)
def test_every_step_says_clear_the_code_and_let_it_settle(kb, test):
    hand = " ".join(kb.test(test, "coolant-temperature").hand)
    assert "Clear codes" in hand and "key on" in hand
    assert "settle" in hand


def test_the_kind_is_warned_of_beforehand(kb):
    said = next(one.text for one in kb.cautions("coolant-temperature") if one.id == "default-value")
    assert "within a second" in said and "is a code set now" in said and "raw-volts item" in said
    assert kb.input("input-1k-decided").default_low_c == 40 and kb.input("input-1k-decided").default_high_c == 80
    assert kb.input("input-1k-diesel").default_low_c == -20 and kb.input("input-1k-diesel").default_high_c == 60


def test_nobody_told_the_default_and_the_number_rises(kb):
    # 40 degC, then 80 with the plug still open: numbers a circuit cannot give, so a made-up one is supposed.
    job = kb.job("coolant-temperature").record("as-found", shows=40).record("unplugged", shows=40).record("shorted", shows=60)
    verdict = job.verdict()
    assert verdict.state != "found"
    assert sum(verdict.locations[place] for place in WIRES) < 0.6
    assert {"substitute", "substitute-to-chassis", "live-number", "plug-volts"} & {a.test for a in job.advice()[:2]}


@pytest.mark.parametrize("hot", [140, 142, 150])
def test_a_reader_that_keeps_its_ends_is_believed(kb, hot):
    # Steered by 80 degC inside, but the reader shows -40 and 140: open and short are in order at the plug.
    job = kb.job("coolant-temperature", circuit={"default": 80}).record("as-found", shows=-40).record("unplugged", shows=-40)
    verdict = job.record("shorted", shows=hot).verdict()
    assert verdict.locations["sensor"] + verdict.locations["plug"] > 0.8
    assert verdict.misfit is None


def test_a_number_from_the_intake_is_no_temperature_of_the_coolant(kb):
    circuit = {"reference_v": 5.0, "high_limit_v": 4.91, "default": [20, 90]}
    job = kb.job("coolant-temperature", circuit=circuit).record("unplugged", shows=24)
    assert _undecided(job.verdict())
    assert "shorted" not in [a.test for a in job.advice()[:2]]


def test_sixty_degrees_on_an_open_is_not_a_dead_module(kb):
    job = kb.job("coolant-temperature", circuit=COLD_OR_WARM).record("as-found", shows=60).record("unplugged", shows=60)
    assert _undecided(job.verdict())
    # 1 kohm is 51 degC on 3550 and 180 ohm.
    verdict = job.record("substitute", ohm="1k", shows=51).verdict()
    assert verdict.locations["module"] < 0.05
    assert verdict.locations["sensor"] + verdict.locations["plug"] > 0.6
