"""Owns the proof that nothing is left to compile once the program is warm: no job waits for it."""

import subprocess
import sys

from knowledge.warm import forget_others

# Jobs unlike those that warm it: nothing told, words, a sweep, a number jumping, current through a short, other quantities.
CODE = """
import importlib, pkgutil
from numba.core.dispatcher import Dispatcher
import engine
from knowledge import load
from knowledge.warm import warm

def compiled():
    modules = [importlib.import_module(f"engine.{module.name}") for module in pkgutil.iter_modules(engine.__path__)]
    return {(module.__name__, name, str(signature)) for module in modules for name, function in vars(module).items()
            if isinstance(function, Dispatcher) for signature in function.signatures}

kb = load()
warm(kb)
before = compiled()
at = {"value": 20, "unit": "degC"}
jobs = [
    kb.job("coolant-temperature", ["P0118"], surroundings=at, readings=[
        {"test": "as-found", "shows": -38, "unit": "degF"}, {"test": "unplugged", "shows": "minimum"},
        {"test": "look", "good": True},
        {"test": "live-number", "shows": [-10, 71]}, {"test": "short-circuit-current", "signal_ma": 1.9}]),
    kb.job("fuel-level", readings=[{"test": "as-found", "shows": "jumps"}, {"test": "substitute", "ohm": 33, "shows": 95}]),
    kb.job("fuel-level-gauge", readings=[{"test": "as-found", "shows": 3}]),
    kb.job("manifold-pressure", ["P0107"], readings=[
        {"test": "as-found", "shows": 40},
        {"test": "barometer", "shows": 100, "at": {"value": 100, "unit": "kPa"}, "signal_to_return_v": 1.3}])]
for job in jobs:
    job.verdict()
    job.advice()
print(len(before), *sorted(compiled() - before), sep="\\n")
"""


def test_nothing_is_compiled_for_a_job_once_the_program_is_warm():
    run = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=True)
    count, *compiled_since = run.stdout.split("\n")[:-1]
    assert int(count) > 10 and compiled_since == []


def test_what_was_compiled_of_older_sources_goes_and_nothing_else(tmp_path):
    for name in ("compiled-1", "compiled-2", "compiled-3", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "kept").write_text("x")
    (tmp_path / "engine.pyc").write_text("x")
    forget_others(tmp_path / "compiled-2")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["compiled-2", "engine.pyc", "other"]
    assert (tmp_path / "compiled-2" / "kept").read_text() == "x"
