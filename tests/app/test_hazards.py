"""Owns the proof that no route gives a value for restraint, occupant and high-voltage circuits: screen, link, book, command, Python."""

import json
import subprocess
import sys

import pytest

from app import cached, wording
from engine.errors import RefusedError
from knowledge.lint_hazards import FIGURE
from tests.app.screen import fine, job_of, opened, said

TRIED = {"circuit": {"reference_v": 5.0, "pull_up_ohm": 2200, "curve": {"points": [[20, 2.2], [80, 1.0]], "unit": "degC"}},
         "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 10}, "readings": [{"test": "substitute", "ohm": 2.2, "shows": 20}]}


def hazards(kb):
    """Sensor kinds refused as a hazard."""
    return [sensor.id for sensor in kb.tables.sensors if kb.refusal(sensor.id) is not None and kb.refusal(sensor.id).kind == "hazard"]


def restraint_and_high_voltage(kb):
    """Those whose circuit is a restraint's, an occupant's or a high-voltage one."""
    return [id for id in hazards(kb) if kb.sensor(id).circuit_kind in ("restraint-loop", "high-voltage-pack")]


def test_they_are_all_there(kb):
    assert len(restraint_and_high_voltage(kb)) == 11 and len(hazards(kb)) >= 15


def test_the_complaint_screen_gives_the_reason_and_no_figure(kb):
    complaints = {row.complaint for row in kb.tables.implications if row.sensor in restraint_and_high_voltage(kb)}
    assert {"B00xx", "P0A9D", "P0Axx", "airbag-lamp", "passenger-airbag-off", "not-ready-hybrid", "charging-slow"} <= complaints
    screen = opened()
    for id in (*sorted(complaints), *hazards(kb)):
        label = next(entry.label for entry in kb.entries() if entry.id == id)
        screen.text_input(key="complaint-text").set_value(label).run()
        screen.button(key=f"add-{id}").click().run()
        assert "No stand-in here." in said(fine(screen))
        assert not FIGURE.search(said(screen)), (id, FIGURE.search(said(screen)))
        named = {one.sensor for one in kb.candidates(id)}
        assert not [button for button in screen.button if button.key in {f"start-{sensor}" for sensor in named & set(hazards(kb))}]
        screen.session_state["tree"] = True
        screen.run()
        assert not FIGURE.search(said(screen))
        screen.button(key=f"off-{id}").click().run()


@pytest.mark.parametrize("page", ["circuit", "dial_sheet", "next_step", "book"])
def test_a_link_to_such_a_job_gives_one_sentence_and_no_figure(kb, page):
    for id in restraint_and_high_voltage(kb):
        screen = fine(opened(page, job=job_of({"format": 1, "sensor": id, **TRIED})))
        assert "takes no stand-in" in said(screen) and not FIGURE.search(said(screen)), id
    for complaint in ("B0012", "P0A9D", "restraint-circuit"):
        screen = fine(opened(page, job=job_of({"format": 1, "sensor": "battery-temperature", "complaint": [complaint]})))
        assert "takes no stand-in" in said(screen) and not FIGURE.search(said(screen)), complaint


def test_notes_of_the_shop_on_them_are_not_shown(kb):
    for id in restraint_and_high_voltage(kb):
        cached.shop_book().close(job_of({"format": 1, "sensor": id}), location="plug", repaired="2.2 ohm put in", proof_passed=None,
                                 note="module wants 2.2 ohm, opens at 8 V")
    screen = fine(opened("book"))
    assert len([one for one in screen.warning if one.value.startswith("What was noted here")]) == len(restraint_and_high_voltage(kb))
    assert not FIGURE.search(said(screen)) and not [button for button in screen.button if button.key.startswith("reopen-")]


def test_the_table_of_kinds_gives_no_figure_for_them(kb):
    screen = fine(opened("suits"))
    table = next(node.value for node in screen.markdown if "Faults noticed" in node.value)
    for row in (row for row in kb.review() if row.sensor in hazards(kb)):
        assert row.refused and (row.low_c, row.high_c, row.near_c, row.detected) == (None,) * 4
        assert wording.plain(wording.title(row.label)) not in table
        screen.selectbox(key="refused-kind").set_value(row.sensor).run()
        assert not FIGURE.search("\n".join(node.value for kind in ("error", "warning") for node in getattr(fine(screen), kind)))


def test_the_command_line_refuses_them(kb, tmp_path):
    case = tmp_path / "case.json"
    for id, complaint in ((restraint_and_high_voltage(kb)[0], []), ("high-voltage-temperature", []), ("battery-temperature", ["P0A7F"])):
        case.write_text(json.dumps({"format": 1, "sensor": id, "complaint": complaint, **TRIED}))
        done = subprocess.run([sys.executable, "-m", "app.command_line", "answer", str(case)], capture_output=True, text=True, check=False)
        assert done.returncode == 2 and done.stdout == "" and "takes no stand-in" in done.stderr
        assert not FIGURE.search(done.stderr) and len(done.stderr.splitlines()) == 1


def test_python_gives_nothing_to_dial_for_them(kb):
    for id in restraint_and_high_voltage(kb):
        for fields in ({}, TRIED):
            with pytest.raises(RefusedError) as caught:
                kb.job(id, **fields)
            assert not FIGURE.search(" ".join((str(caught.value), caught.value.caution)))
        sensor = kb.sensor(id)
        assert (kb.curves(id), kb.inputs(id), kb.tests(id)) == ((), (), ())
        assert (sensor.ohm_25, sensor.assumed_input, sensor.low_c, sensor.high_c, sensor.live_step_c) == (None,) * 5
        assert not FIGURE.search(kb.fault_tree_text(kb.fault_tree([id]))) and not FIGURE.search(kb.fault_tree_dot(kb.fault_tree([id])))
        assert not FIGURE.search(" ".join((sensor.summary, kb.source(sensor.source).citation, *(caution.text for caution in kb.cautions(id)))))
