"""Owns a retold service text: a module that changes its input resistor with temperature, swept with numbers and volts.

Source: published service figures: 4 kohm below 40 degC (104 degF), 348 ohm above; a code sets where the switch-over makes no
change, and then the module is replaced. Volts and numbers are the divider's: at 1.2 kohm 1.15 V becomes 3.88 V while the
number goes on evenly.
"""

import pytest

from engine.dial_sheet import dial_sheet
from engine.input_fits import pull_up_from_pairs

CURVE = "ntc-3400-20c-coolant"
COLD_OHM, WARM_OHM = 4000.0, 348.0
CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": COLD_OHM, "second_pull_up_ohm": WARM_OHM,
           "switch_at": {"value": 104, "unit": "degF"}, "switch_band": 4, "curve": CURVE}
# From cold to warm: below 104 degF down to 2 kohm, above it from 1.2 kohm on.
COLD, WARM = (3400, 2000), (1200, 330, 185)


def _volts(ohm, real_ohm):
    return round(5.0 * ohm / (ohm + real_ohm), 2)


def _sweep(kb, shown, warm_real, *, circuit=CIRCUIT, volts=True, numbers=True):
    """Dialled from cold to warm; `warm_real` is the resistor really there once the module thinks it switched."""
    job = kb.job("coolant-temperature", circuit=circuit)
    for ohm, real, assumed in (*((o, COLD_OHM, COLD_OHM) for o in COLD), *((o, warm_real, WARM_OHM) for o in WARM)):
        read = {"shows": shown(CURVE, ohm, real, assumed), "unit": "degF"} if numbers else {}
        job = job.record("substitute", ohm=ohm, **read, **({"signal_to_return_v": _volts(ohm, real)} if volts else {}))
    return job


@pytest.mark.parametrize("volts", [True, False])
def test_a_jump_of_the_volts_alone_is_in_order(kb, shown, volts):
    # The trap calls it wiring, or puts one resistor through both ranges.
    verdict = _sweep(kb, shown, WARM_OHM, volts=volts).verdict()
    assert verdict.misfit is None
    assert sum(verdict.locations[place] for place in ("signal", "return", "module", "supply")) < 0.08


def test_the_volts_alone_show_the_switch(kb, shown):
    verdict = _sweep(kb, shown, WARM_OHM, numbers=False).verdict()
    assert verdict.misfit is None
    assert sum(verdict.locations[place] for place in ("signal", "return", "module", "supply")) < 0.08


@pytest.mark.parametrize("volts", [True, False])
def test_a_jump_of_the_number_is_the_modules_switching(kb, shown, volts):
    job = _sweep(kb, shown, COLD_OHM, volts=volts)
    verdict = job.verdict()
    assert verdict.locations["module"] > 0.95
    assert verdict.faults[0].id == "switching-dead"
    # Its proof first: the module's own pins and its feeds.
    assert verdict.state == "open"
    assert set(verdict.missing_proof) == {"feeds", "module-pins"}


def test_the_jump_at_the_modules_own_pins_proves_it(kb, shown):
    job = _sweep(kb, shown, COLD_OHM).record("module-feeds", good=True)
    job = job.record("substitute-at-module", ohm=330, shows=shown(CURVE, 330, COLD_OHM, WARM_OHM), unit="degF")
    verdict = job.verdict()
    assert (verdict.state, verdict.location) == ("found", "module")


def test_near_the_switch_either_voltage_is_right(kb, shown):
    # Hysteresis: at 1.5 kohm (about 103 degF) the module may stand in either range.
    for real in (COLD_OHM, WARM_OHM):
        job = kb.job("coolant-temperature", circuit=CIRCUIT)
        for ohm, there in ((3400, COLD_OHM), (1500, real), (330, WARM_OHM)):
            job = job.record("substitute", ohm=ohm, shows=shown(CURVE, ohm), unit="degF", signal_to_return_v=_volts(ohm, there))
        assert job.verdict().misfit is None


def test_a_switch_nobody_told_is_not_called_wiring(kb, shown):
    # One resistor typed, two there: the reading that does not fit is named, and no wire is blamed.
    circuit = {"reference_v": 5.0, "pull_up_ohm": COLD_OHM, "curve": CURVE}
    verdict = _sweep(kb, shown, WARM_OHM, circuit=circuit).verdict()
    assert verdict.state == "nothing-fits"
    assert verdict.misfit in (2, 3, 4)
    assert verdict.locations["signal"] + verdict.locations["return"] + verdict.locations["module"] < 0.06


def test_the_pairs_name_the_switch_and_its_second_resistor():
    ohms = (*COLD, *WARM)
    volts = [_volts(o, COLD_OHM) for o in COLD] + [_volts(o, WARM_OHM) for o in WARM]
    got = pull_up_from_pairs(ohms, volts, open_v=5.0)
    assert (got.together, got.best) == (None, "switched")
    assert next(c for c in got.causes if c.id == "switched").value == pytest.approx(WARM_OHM, rel=0.02)


def test_a_voltage_fed_in_is_read_on_whichever_resistor_is_in(kb):
    caution = next(one.text for one in kb.cautions("coolant-temperature") if one.id == "volts-jump")
    assert "fed in from outside" in caution and "whichever resistor" in caution
    # 1.15 V are 1.2 kohm behind 4 kohm, about 44 degC, and 104 ohm behind 348 ohm: far too hot.
    at = [float(kb.curve(CURVE).temperature_at(ohm * 1.15 / (5.0 - 1.15))) for ohm in (COLD_OHM, WARM_OHM)]
    assert at[0] == pytest.approx(44.0, abs=3.0) and at[1] > 100.0


def test_a_switch_that_makes_no_change_is_the_modules_and_replaces_it(kb):
    assert kb.action("switching-dead").id == "replace-module"


def test_the_dial_sheet_shows_one_jump_of_the_volts_and_none_of_the_number(kb):
    job = kb.job("coolant-temperature", circuit=CIRCUIT)
    rows = dial_sheet(job.circuit, kb.curve(CURVE), job.stand_in, job.meter, (20, 30, 50, 80))
    assert [round(row.shows_c) for row in rows] == [20, 30, 50, 80]
    volts = [row.plug_v for row in rows]
    assert volts[0] > volts[1] and volts[1] < volts[2] and volts[2] > volts[3]
    assert any("jump" in caution.text for caution in kb.cautions("coolant-temperature"))
