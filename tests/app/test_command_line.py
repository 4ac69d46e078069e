"""Owns the proof that the command answers alike every time, starts fast, and refuses bad input in one sentence."""

import contextlib
import io
import json
import random
import subprocess
from importlib import metadata
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app import command_line
from tests.app.case import CASE, WITHOUT_READINGS
from tests.app.serving import COMMAND


def run(*arguments, cwd=None):
    return subprocess.run([COMMAND, *arguments], capture_output=True, cwd=cwd, timeout=120, check=False)


def answer(folder, case):
    return run("answer", str(written(folder, case)))


def written(folder, case):
    file = folder / "case.json"
    file.write_text(json.dumps(case), encoding="utf-8")
    return file


def spoken(kb, file):
    """Exit code, what is said and what is complained of for the case in `file`, in this process and with `kb` loaded before."""
    said, complained = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.StringIO()
    # What is loaded does not depend on the case.
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(complained), patch("knowledge.load", lambda: kb):
        code = command_line.main(["answer", str(file)])
    return code, said.buffer.getvalue(), complained.getvalue()


def test_the_worked_case_is_found(tmp_path):
    done = answer(tmp_path, CASE)
    assert done.returncode == 0 and done.stderr == b""
    found = json.loads(done.stdout)
    assert sorted(found) == ["faults", "knowledge", "learned", "locations", "next", "verdict"]
    assert (found["verdict"]["state"], found["verdict"]["location"]) == ("found", "return")
    assert found["faults"][0]["id"] == "return-added-ohms"
    estimate = found["faults"][0]["estimate"]
    assert estimate["unit"] == "ohm" and estimate["low"] < 249 < estimate["high"]
    assert abs(sum(found["locations"].values()) - 1.0) < 1e-5
    assert len(found["verdict"]["because"]) == len(CASE["readings"])


def test_same_bytes_in_every_process_and_with_the_readings_in_any_order(tmp_path, kb):
    first = answer(tmp_path, CASE).stdout
    assert answer(tmp_path, dict(reversed(CASE.items()))).stdout == first
    for seed in (1, 2, 3):
        readings = CASE["readings"][:]
        random.Random(seed).shuffle(readings)
        assert spoken(kb, written(tmp_path, {**CASE, "readings": readings})) == (0, first, "")


def test_a_case_without_readings_gets_advice(tmp_path):
    found = json.loads(answer(tmp_path, {"sensor": "coolant-temperature"}).stdout)
    assert found["verdict"]["state"] == "open"
    assert {"test", "ohm", "minutes", "worth", "expect"} == set(found["next"][0])
    assert list(found["locations"]) == sorted(found["locations"])


def test_numbers_carry_at_most_six_digits(tmp_path, kb):
    def walk(value):
        if isinstance(value, dict):
            value = list(value.values())
        if isinstance(value, list):
            for inner in value:
                walk(inner)
        elif isinstance(value, float):
            assert value == float(f"{value:.6g}")
    code, out, _ = spoken(kb, written(tmp_path, {**WITHOUT_READINGS, "readings": CASE["readings"][:3]}))
    assert code == 0
    walk(json.loads(out))


@pytest.mark.parametrize("change, words", [
    ({"sensor": "no-such"}, "sensor"), ({"sensor": "restraint-circuit"}, "takes no stand-in"), ({"format": 2}, "format"),
    ({"extra": 1}, "extra"), ({"readings": [{"test": "substitute", "shows": 61}]}, "readings[0].ohm"),
    ({"readings": [{"test": "as-found", "shows": 1e9}]}, "readings[0].shows"),
    ({"readings": [{"test": "as-found", "shows": 20, "unit": "kelvin"}]}, "readings[0].unit"),
    ({"readings": [{"test": "as-found", "shows": "maximum", "ohms": 5}]}, "readings[0].ohms"),
    ({"stand_in": {"kind": "potentiometer", "end_to_end_ohm": -1}}, "stand_in.end_to_end_ohm"),
    ({"circuit": {"reference_v": 5, "short_v": 5}}, "circuit.short_v"), ({"complaint": ["P9999"]}, "complaint[0]"),
    ({"surroundings": {"value": "hot", "unit": "degC"}}, "surroundings"), ({"meter": {"ohm_percent": -1}}, "meter.ohm_percent"),
    ({"sensor": "x" * 100_000}, "sensor"), ({"complaint": ["P0116"] * 1000}, "complaint"),
    ({"sensor": "\x1b[2J\ud800\u202e"}, "sensor")])
def test_a_bad_case_is_one_sentence_and_exit_code_2(tmp_path, kb, change, words):
    code, out, said = spoken(kb, written(tmp_path, {**WITHOUT_READINGS, **change}))
    assert code == 2 and out == b""
    assert words in said
    assert said.count("\n") == 1 and said.endswith(".\n") and len(said) < 1200
    assert all(letter.isprintable() for letter in said[:-1])


@pytest.mark.parametrize("arguments", [("answer",), ("answer", "a", "b"), ("--port", "x"), ("--port", "70000"), ("nothing",)])
def test_a_wrong_call_is_exit_code_2_without_a_trace(arguments):
    done = run(*arguments)
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr


def test_the_command_itself_refuses_a_bad_case(tmp_path):
    done = answer(tmp_path, {**WITHOUT_READINGS, "sensor": "\x1b[2J\ud800\u202e"})
    assert done.returncode == 2 and done.stdout == b""
    assert done.stderr.count(b"\n") == 1 and done.stderr.decode()[:-1].isprintable()


def test_a_missing_file_is_exit_code_2(tmp_path):
    done = run("answer", "missing.json", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr == b'the case file is "missing.json": it cannot be read (No such file or directory); name a JSON file.\n'


def test_a_port_in_use_is_said(served):
    taken = served()
    done = run("--no-browser", "--port", str(taken.port))
    assert done.returncode == 2
    assert f"Port {taken.port} cannot be used" in done.stderr.decode()
    assert done.stderr.count(b"\n") == 1


def test_check_finds_nothing_that_is_not_acknowledged():
    done = run("check")
    assert done.returncode == 0, done.stdout.decode()
    assert b" 0 of them not acknowledged." in done.stdout


def test_version():
    assert run("--version").stdout.decode() == f"ohmwright {metadata.version('ohmwright')}\n"


def test_the_answer_needs_no_screen():
    done = subprocess.run(
        [COMMAND.with_name("python"), "-c",
         "import sys, app.command_line, app.answer, knowledge; "
         "print(sorted({'streamlit', 'pandas', 'uvicorn', 'sqlalchemy'} & set(sys.modules)))"],
        capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == "[]"


JSON = st.recursive(st.none() | st.booleans() | st.integers(-10**12, 10**12) | st.floats(allow_nan=False) | st.text(max_size=20),
                    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
                    max_leaves=8)
FIELDS = st.sampled_from(["format", "sensor", "complaint", "circuit", "stand_in", "meter", "surroundings", "readings", "x"])
READING = st.fixed_dictionaries({"test": st.sampled_from(["as-found", "substitute", "return-ohms", "look", "x"]) | JSON},
                                optional={name: JSON for name in ("ohm", "shows", "unit", "ohms", "good", "at", "x")})


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(FIELDS, JSON, max_size=4), st.lists(READING, max_size=2))
def test_any_case_is_answered_or_refused_in_one_sentence(tmp_path_factory, kb, changes, readings):
    code, out, said = spoken(kb, written(tmp_path_factory.getbasetemp(), {**WITHOUT_READINGS, "readings": readings, **changes}))
    if code == 0:
        json.loads(out)
    else:
        assert code == 2 and out == b""
        assert said.count("\n") == 1 and said.endswith(".\n")
