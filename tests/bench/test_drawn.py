"""Checks of what the matched bench types: as often an end, a slip or the same end once more as the engine's own density says."""

import numpy as np
import pytest

from .drawn import MILLIAMPERES, draw_job, draw_truth, numbers_shown, typed
from .long_run import knowledge


class Kept:
    """Stands in for a random generator: keeps the chances it is asked to draw by, and draws the first of all."""

    def random(self):
        return 1.0

    def choice(self, count, p):
        self.chances = p
        return 0


@pytest.fixture(scope="module")
def open_sensor():
    """A job on a sensor whose number goes up when it opens, and one that is open."""
    rng = np.random.default_rng(5)
    job = draw_job(knowledge(), "exhaust-gas-temperature-pt200", True, rng)
    return job, draw_truth(job, rng, "sensor-open")


def chances(job, truth, test):
    """How likely a test is typed as each number it can be."""
    rng = Kept()
    typed(job, truth, next(kind for kind in job.tests if kind.id == test), None, rng)
    return rng.chances


def numbers(job):
    """The numbers a scale can show, as they are drawn."""
    return numbers_shown(job.setup.quantity)


def test_a_number_beyond_the_scale_is_typed_as_an_end_of_it(open_sensor):
    # A module nobody knows shows a number of its own in one of ten (the engine's UNTOLD_DEFAULT), a slip is one in a hundred.
    job, truth = open_sensor
    at_an_end = chances(job, truth, "as-found")[numbers(job) >= job.setup.quantity.high_ends_from].sum()
    assert 0.85 < at_an_end < 0.92


def test_no_current_is_typed_as_next_to_none():
    # A number is a slip in one of a hundred (the engine's SLIP), over a span that the currents drawn exceed twice, of either sign.
    rng = np.random.default_rng(3)
    job = draw_job(knowledge(), "coolant-temperature", True, rng)
    truth = draw_truth(job, rng, "signal-open")
    assert chances(job, truth, "short-circuit-current")[np.abs(MILLIAMPERES) > 0.02].sum() < 0.03


def test_the_end_a_module_has_shown_is_shown_again(open_sensor):
    # But for a number of its own in one of ten, a slip in a hundred and what an end known still leaves open it is the same.
    job, truth = open_sensor
    end = job.setup.quantity.high_end - 20.0
    again = chances(job.record("as-found", shows=end), truth, "unplugged")
    assert again[np.abs(numbers(job) - end) < 2.0].sum() > 0.7
    assert again[numbers(job) > end + 5.0].sum() < 0.05
