"""Owns the proof that what may be typed of one circuit adds up to one, whatever is wrong with it.

Identities of arithmetic, no source: a fault under which more could be typed than under others would be believed for that alone.
"""

import numpy as np
import pytest

from engine.batches import lattice
from engine.likelihood import Evidence
from engine.readings import Reading
from engine.units import from_degc
from engine.unknowns import Z_NAMES
from tests.loaded import KB

SAMPLES = 2
# A slip (one in a hundred) may be any number, or word, of more than a hundred; an end is a few numbers broad.
WITHIN, OHMS_WITHIN = 0.14, 0.2
LN_OHM_STEP = 0.008
OHMS = np.exp(np.arange(np.log(1e-2), np.log(5e6), LN_OHM_STEP))
STAND_IN = {"kind": "potentiometer", "end_to_end_ohm": 10_000, "turns": 1}
JOBS = {
    "told": KB.job("coolant-temperature", circuit={"reference_v": 5.0, "pull_up_ohm": 2490, "curve": "ntc-2500-20c-coolant"},
                   surroundings={"value": 20, "unit": "degC"}, stand_in=STAND_IN),
    "unknown": KB.job("coolant-temperature", stand_in=STAND_IN),
    "level": KB.job("fuel-level", stand_in=STAND_IN),
}


@pytest.fixture(scope="module", params=JOBS)
def circuits(request):
    """Some circuits of a job."""
    return circuits_of(JOBS[request.param])


def circuits_of(job):
    """The job, all its rows, and some circuits, share (f, s) and z (f, s, z), of each."""
    rows = np.arange(len(job.model))
    points = lattice(SAMPLES, 1 + len(Z_NAMES))
    return job, rows, np.tile(points[:, 0], (len(rows), 1)), np.tile(1.5 * (points[:, 1:] - 0.5), (len(rows), 1, 1))


def chances(circuits, readings):
    """How likely (r, f, s) each of `readings`, every one by itself, is typed of the circuits."""
    job, rows, share, z = circuits
    return np.exp([Evidence(job.model, (reading,)).by_reading(share, z, rows)[0][0] for reading in readings])


def having(job, fault):
    return np.array([kind.id == fault for kind in job.model.kinds])


def test_numbers_and_none_add_up(circuits):
    job, scale = circuits[0], circuits[0].setup.quantity
    top = from_degc(scale.high_end, "degF") if scale.unit == "degC" else scale.high_end
    numbers = np.arange(scale.low_end, top + 1.0)
    each = chances(circuits, [Reading("as-found", shows=float(n), unit=scale.unit) for n in numbers])
    none = chances(circuits, [Reading("as-found", shows="not-available")])[0]
    # The other unit's numbers are for those who mistake it; a slip there is counted with the others' already.
    own = (numbers <= scale.high_end)[:, None, None] | having(job, "wrong-unit")[None, :, None]
    total = (each * own).sum(axis=0) + none
    np.testing.assert_allclose(total, 1.0, atol=WITHIN)


def test_numbers_of_a_scale_in_steps_of_its_own_add_up():
    # 100 A / 255 (SAE J1979) in steps of 0.4 %, whose ends are one number each.
    circuits = circuits_of(KB.job("throttle-position"))
    scale = circuits[0].setup.quantity
    each = chances(circuits, [Reading("as-found", shows=float(n), unit="percent") for n in np.arange(0.0, 100.1, scale.whole)])
    none = chances(circuits, [Reading("as-found", shows="not-available")])[0]
    total = each.sum(axis=0) * scale.whole + none
    np.testing.assert_allclose(total, 1.0, atol=WITHIN)


def test_the_number_a_sweep_stops_at_and_none_at_all_add_up(circuits):
    job, scale = circuits[0], circuits[0].setup.quantity
    numbers = np.arange(scale.low_end, scale.high_end + 1.0)
    each = chances(circuits, [Reading("live-number", shows=(float(n), scale.high_end), unit=scale.unit) for n in numbers])
    still = chances(circuits, [Reading("live-number", shows="did-not-move"), Reading("live-number", shows="not-available")])
    # With the key off nothing is there and nothing moves: two words for one thing.
    total = (each.sum(axis=0) + still.sum(axis=0))[~having(job, "wrong-unit") & ~having(job, "key-off")]
    np.testing.assert_allclose(total, 1.0, atol=WITHIN)


def test_ohms_add_up_however_few_they_are(circuits):
    # Open is one more word for some millions of ohms, counted beside them. Who takes ohm for kilohm types hundredths of an ohm of a
    # level sender, fewer than there are.
    job = circuits[0]
    for test, floor in (("sensor-ohms", 0.4), ("return-ohms", 1.0)):
        each = chances(circuits, [Reading(test, ohms=float(ohm)) for ohm in OHMS])
        open_ = chances(circuits, [Reading(test, ohms="open")])[0]
        total = (each * (LN_OHM_STEP * OHMS / (OHMS + floor))[:, None, None]).sum(axis=0)
        clear = (open_ < 0.01) & ~(having(job, "ohm-for-kilohm") & (job.setup.quantity.id == "level"))[:, None]
        assert clear.any()
        np.testing.assert_allclose(total[clear], 1.0, atol=OHMS_WITHIN, err_msg=test)
