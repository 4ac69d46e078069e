"""Owns the worked case of the README: a return with 249 ohm too many, reading by reading and as a whole.

The numbers are arithmetic on a 2.2 kohm pull-up to 5 V and the curve 2500 ohm at 20 degC, 330 ohm at 80 degC: 330 + 249
ohm stand for 61 degC on that curve, 2500 + 249 for 18 to 19 degC, 249 for 90 degC.
"""

import json
from itertools import permutations
from pathlib import Path

CASE = json.loads((Path(__file__).parent / "return_with_249_ohm.json").read_text())


def test_the_return_is_found_with_its_ohms(kb):
    verdict = kb.open_case(CASE).verdict()
    assert (verdict.state, verdict.location) == ("found", "return")
    fault = verdict.faults[0]
    assert fault.id == "return-added-ohms"
    assert fault.estimate.low < 249.0 < fault.estimate.high
    assert fault.estimate.high - fault.estimate.low < 15.0


def test_stand_ins_to_the_return_alone_leave_signal_and_return_together(kb):
    # The two wires are in series for any stand-in between them (Kirchhoff): only another path splits them.
    job = kb.open_case({**CASE, "readings": CASE["readings"][:4]})
    verdict = job.verdict()
    assert verdict.state == "open"
    assert verdict.locations["signal"] + verdict.locations["return"] > 0.95
    assert min(verdict.locations["signal"], verdict.locations["return"]) > 0.2
    first = job.advice()[0]
    assert first.test in ("substitute-to-chassis", "return-ohms")
    assert {"signal", "return"} <= set(first.splits)


def test_the_order_of_entry_does_not_matter(kb):
    head = {k: v for k, v in CASE.items() if k != "readings"}
    answers = set()
    for order in list(permutations(CASE["readings"][:4]))[::7]:
        job = kb.open_case({**head, "readings": list(order)})
        verdict = job.verdict()
        answers.add(repr((verdict.state, verdict.locations, verdict.faults, job.advice())))
    assert len(answers) == 1, "each order must give the same digits"
