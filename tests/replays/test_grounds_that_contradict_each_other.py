"""Owns a retold case: a ground branch of 224 ohm, and a meter that lies.

Source: public thread, retold; open. Ohms to battery: throttle 4, EGR 224, manifold sensor 0.767; throttle to EGR 225, throttle
to manifold sensor 0.767, EGR to manifold sensor 2.7; the leads alone read 1.1 ohm or more and drift. 2.7 cannot hold with
224 and 0.767 (arithmetic).
"""

from app import sentences
from engine.ground_ohms import impossible

SIX = (("throttle", "battery", 4.0), ("egr", "battery", 224.0), ("manifold", "battery", 0.767), ("throttle", "egr", 225.0),
       ("throttle", "manifold", 0.767), ("egr", "manifold", 2.7))


def test_the_six_numbers_contradict_each_other():
    found = impossible(SIX)
    assert found and set(found[0].points) >= {"egr", "manifold"}
    assert found[0].far > 220 and found[0].round_about < 5
    # Lead ohms on every number explain small misfits, and none is called out then.
    assert not impossible((("a", "b", 4.0), ("b", "c", 0.8), ("a", "c", 0.8)))
    assert not impossible((("a", "b", 224.0), ("b", "c", 225.0), ("a", "c", 2.7)))


def test_they_are_void_not_averaged_and_asked_for_again_with_leads_zeroed(kb):
    job = kb.job("throttle-position").record("supply-volts", supply_to_return_v=4.95)
    before = job.verdict().locations
    job = job.record("return-ohms", ohms=4.0, between=[list(one) for one in SIX])
    verdict = job.verdict()
    assert [(one.reading, one.reason) for one in verdict.void] == [(1, "impossible")]
    assert verdict.locations == before and verdict.state != "found"
    assert "zero their own ohms" in sentences.void(kb, job, verdict.void[0])
    assert kb.open_case(job.to_dict()) == job
