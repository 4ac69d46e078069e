"""Checks of what the matched bench types: as often an end, a slip or the same end once more as the engine's own density says."""

import numpy as np
import pytest

from .drawn import draw_job, draw_truth, typed
from .long_run import knowledge

READ = 40


@pytest.fixture(scope="module")
def open_sensor():
    """A job on a sensor whose number goes up when it opens, and one that is open."""
    rng = np.random.default_rng(5)
    job = draw_job(knowledge(), "exhaust-gas-temperature-pt200", True, rng)
    return job, draw_truth(job, rng, "sensor-open")


def often(job, truth, test, rng):
    """What a test shows, typed again and again."""
    kind = next(kind for kind in job.tests if kind.id == test)
    return np.array([typed(job, truth, kind, None, rng)["shows"] for _ in range(READ)])


def test_a_number_beyond_the_scale_is_typed_as_an_end_of_it(open_sensor):
    # A module nobody knows shows a number of its own in one of ten (the engine's UNTOLD_DEFAULT); 26 of 40 are nearly five deviations less.
    job, truth = open_sensor
    shown = often(job, truth, "as-found", np.random.default_rng(1))
    assert (shown >= job.setup.quantity.high_ends_from).sum() > 26


def test_no_current_is_typed_as_next_to_none():
    # A number is a slip in 1.3 of a hundred (the engine's SLIP and UNIT_SLIP): half a one of forty; five are six deviations more.
    rng = np.random.default_rng(3)
    job = draw_job(knowledge(), "coolant-temperature", True, rng)
    truth, kind = draw_truth(job, rng, "signal-open"), next(kind for kind in job.tests if kind.id == "short-circuit-current")
    current = np.array([typed(job, truth, kind, None, rng)["signal_ma"] for _ in range(READ)])
    assert (np.abs(current) > 0.02).sum() < 5


def test_the_end_a_module_has_shown_is_shown_again(open_sensor):
    # But for a number of its own in one of ten and a slip in a hundred it is the same: 35 of 40 (deviation 2), here more than 20.
    job, truth = open_sensor
    end = job.setup.quantity.high_end - 20.0
    shown = often(job.record("as-found", shows=end), truth, "unplugged", np.random.default_rng(2))
    assert (np.abs(shown - end) < 2.0).sum() > 20
    assert (shown > end + 5.0).sum() < 4
