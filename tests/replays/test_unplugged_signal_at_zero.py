"""Owns published service figures: which way an unplugged three-wire signal goes, and the feed-through where it goes to 0 V.

Source: published service figures, retold. Up to 5 V unplugged: pulled up, and the wire is proven. Down to 0 V (A/C pressure:
0.1 to 1.8 V normal): feed 5 V to the signal through about 5 kohm, so that a grounded wire does not drag the reference.
"""


def test_a_signal_that_rises_unplugged_is_pulled_up_and_its_wire_is_proven(kb):
    job = kb.job("throttle-position").record("plug-volts", signal_to_battery_v=5.0)
    verdict, before = job.verdict(), kb.job("throttle-position").verdict()
    assert verdict.learned["pulled_up"].mid > 0.75
    broken = [{fault.id: fault.p for fault in one.faults}["three-signal-open"] for one in (before, verdict)]
    assert broken[1] < 0.2 * broken[0]


def test_a_signal_at_zero_unplugged_is_split_by_feeding_it_through(kb):
    job = kb.job("throttle-position", ["P0122"], circuit={"line": "position-absolute"})
    job = job.record("as-found", shows=0).record("unplugged", shows=0, signal_to_battery_v=0.0)
    assert "feed-through" in [one.test for one in job.advice()]
    alive = job.record("feed-through", shows=98).verdict()
    assert alive.locations["signal"] < 0.1
    dead = job.record("feed-through", shows=0, signal_to_return_v=0.0).verdict()
    assert dead.locations["signal"] + dead.locations["plug"] + dead.locations["supply"] > 0.7


def test_the_feed_through_has_5_kohm_in_it(kb):
    words = kb.test("feed-through", "throttle-position")
    assert "5 kohm" in words.connect and any("rail" in one.id for one in words.cautions)
