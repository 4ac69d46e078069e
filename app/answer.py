"""Owns the headless answer: a case file in, the same answer as bytes out, every time."""

import json
import math
from pathlib import Path

from app import verdict_words
from engine.errors import InputError

MAX_BYTES = 1_000_000
MAX_DEPTH = 20
DIGITS = 6


def read_case(path: str) -> dict:
    """The case of the JSON file at `path`; InputError says in one sentence what is wrong with it."""
    where = "the case file"
    try:
        with Path(path).open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or "not a file name"
        raise InputError(where, path, f"it cannot be read ({reason}); name a JSON file") from None
    if len(raw) > MAX_BYTES:
        raise InputError(where, "too large", f"a case takes at most {MAX_BYTES} bytes")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise InputError(where, f"not UTF-8 at byte {problem.start}", "save it as UTF-8 text") from None
    case = _parse(text, where)
    if not isinstance(case, dict):
        raise InputError(where, type(case).__name__, "a case is a JSON object with at least a sensor")
    return case


def answer(kb: object, case: dict) -> str:
    """The answer to `case` as JSON text (design: locations, faults, learned, next, verdict, knowledge).

    Numbers carry 6 significant digits; every list has an order of its own, so
    neither the process nor the order of the readings shows. Raises
    OhmwrightError for a case that cannot be worked.
    """
    job = kb.open_case(case)
    verdict = job.verdict()
    result = {
        "locations": dict(sorted(verdict.locations.items())),
        "faults": [{"id": fault.id, "location": fault.location, "p": fault.p, "estimate": _interval(fault.estimate)}
                   for fault in verdict.faults],
        "learned": {name: _interval(interval) for name, interval in sorted(verdict.learned.items())},
        "next": [{"test": advice.test, "ohm": advice.ohm, "minutes": advice.minutes, "worth": advice.worth,
                  "expect": dict(sorted(advice.expect.items())),
                  **({} if advice.ratio is None else {"ratio": advice.ratio})} for advice in job.advice()],
        "verdict": {"state": verdict.state, "location": verdict.location,
                    "because": sorted(verdict_words.because(kb, job, one) for one in verdict.because)},
        "knowledge": kb.version,
    }
    return json.dumps(rounded(result), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def rounded(value: object) -> object:
    """`value` with every number inside at 6 significant digits, tuples as lists."""
    if isinstance(value, dict):
        return {key: rounded(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(inner) for inner in value]
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}")
    return value


def _interval(interval: object) -> dict | None:
    if interval is None:
        return None
    return {"low": interval.low, "mid": interval.mid, "high": interval.high, "unit": interval.unit}


def _parse(text: str, where: str) -> object:
    _check_depth(text, where)
    try:
        return json.loads(text, object_pairs_hook=_once, parse_constant=_no_constant,
                          parse_float=_finite, parse_int=_whole)
    except json.JSONDecodeError as problem:
        raise InputError(where, f"not JSON at line {problem.lineno}, column {problem.colno}",
                         "it takes one JSON object") from None


def _check_depth(text: str, where: str) -> None:
    # Counted before parsing, so that a wall of brackets cannot exhaust the parser.
    depth = 0
    inside = escaped = False
    for letter in text:
        if inside:
            inside, escaped = escaped or letter != '"', letter == "\\" and not escaped
        elif letter == '"':
            inside = True
        elif letter in "[{":
            depth += 1
            if depth > MAX_DEPTH:
                raise InputError(where, f"more than {MAX_DEPTH} levels deep", "a case nests at most a few levels")
        elif letter in "]}":
            depth -= 1


def _once(pairs: list[tuple[str, object]]) -> dict:
    found: dict = {}
    for key, value in pairs:
        if key in found:
            raise InputError("the case file", f"two fields named {key[:40]}", "each field stands once")
        found[key] = value
    return found


def _no_constant(name: str) -> float:
    raise InputError("the case file", name, "every number is finite")


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise InputError("the case file", text, "every number is finite")
    return number


def _whole(text: str) -> int:
    if len(text) > 30:
        raise InputError("the case file", text, "a whole number has at most 30 digits")
    return int(text)
