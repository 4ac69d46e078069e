"""Owns a retold case: throttle 12 to 35 % at rest while the pump primes; unplugging the fuel level's wire stops it.

Source: public thread, retold; strong on the coupling, its repair open. The sensor had been swapped.
"""


def test_a_number_that_moves_with_a_fixed_divider_on_is_not_the_sensor(kb):
    job = kb.job("throttle-position", ["P0121"]).record("as-found", shows=[12, 35]).record("other-part", good=True)
    assert job.verdict().state == "open" and job.verdict().locations["sensor"] < 0.15
    job = job.record("divide", ratio=0.17, shows="drifts").record("load-switching", good=False)
    verdict = job.verdict()
    assert verdict.locations["sensor"] < 0.1
    assert "unplug-others" in [one.test for one in job.advice()]
    found = job.record("unplug-others", good=False).verdict().locations
    assert found["supply"] + found["return"] + found["module"] > 0.7 and found["sensor"] < 0.02


def test_the_words_say_how_the_others_are_taken_off(kb):
    words = kb.test("unplug-others", "throttle-position")
    assert "fuel pump primes" in " ".join(kb.test("load-switching", "throttle-position").hand)
    assert "pulled down by the part just taken off, or by its wire" in words.proves
    assert "one after the other" in " ".join(words.hand) and "Key off" in " ".join(words.hand)
