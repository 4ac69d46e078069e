"""Owns the proof that nothing typed into a case breaks the program: a job, or one sentence."""

import copy
import json

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.errors import OhmwrightError
from engine.job import Job

CASE = {
    "format": 1, "sensor": "coolant-temperature", "complaint": ["P0116"],
    "circuit": {"reference_v": 5.0, "pull_up_ohm": 2200, "second_pull_up_ohm": 900, "switch_at": 52, "open_v": 5.0,
                "short_v": 0.0, "bits": 10, "curve": {"quantity": "temperature", "unit": "degC", "points": [[20, 2500], [80, 330]]},
                "low_limit_v": 0.1, "high_limit_v": 4.9, "default": [40, {"value": 80, "unit": "degC"}], "battery_v": 12.6,
                "switch_band": {"value": 6, "unit": "degC"}, "strobed": False, "latched": True, "settle_s": 5,
                "second_instrument": {"open_v": 5.0, "pull_up_ohm": 2200}},
    "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 9400, "turns": 1, "watts": 0.2, "ohms": [330]},
    "meter": {"ohm_percent": 0.8, "ohm_digits": 2, "volt_percent": 0.5},
    "surroundings": {"value": 21.0, "unit": "degC"},
    "readings": [{"test": "as-found", "shows": 19, "unit": "degC"},
                 {"test": "substitute", "ohm": 330, "shows": [60, 61], "unit": "degC", "signal_to_return_v": 0.65},
                 {"test": "sensor-ohms", "ohms": "open", "ohms_swapped": 2400, "in_circuit": False,
                  "at": {"value": 21, "unit": "degC"}}, {"test": "short-circuit-current", "signal_ma": 2.2}, {"test": "look", "good": True}]}


def _paths(value, way=()):
    """Every place in the case."""
    if way:
        yield way
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, inner in items:
        yield from _paths(inner, (*way, name))


LEAF = (st.none() | st.booleans() | st.integers() | st.integers(-10**400, 10**400) | st.floats() | st.text(max_size=50)
        | st.sampled_from(["open", "maximum", "degF", "4k7", "1e999", "-40", "\u221e", "NaN", "x" * 5000]))
ANY = st.recursive(LEAF, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12), inner, max_size=3),
                   max_leaves=8)


@settings(max_examples=400, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(path=st.sampled_from(list(_paths(CASE))), value=ANY, named=st.none() | st.text(max_size=20))
def test_anything_in_any_place_is_a_job_or_one_sentence(kb, path, value, named):
    case = copy.deepcopy(CASE)
    *down, last = path
    place = case
    for step in down:
        place = place[step]
    place[last] = value
    if named is not None and isinstance(place, dict):
        place[named] = place.pop(last)
    try:
        job = kb.open_case(case)
    except OhmwrightError as error:
        assert "\n" not in str(error) and len(str(error)) < 1500
    else:
        assert isinstance(job, Job)
        json.dumps(job.to_dict(), allow_nan=False)
        assert kb.open_case(job.to_dict()) == job
