"""Owns what a visit remembers: which job is open, the unit to read in, and the note to show next."""

import streamlit as st

from app import cached

UNITS = ("degC", "degF")
_KEY = "ohmwright"
_JOB, _UNIT = "job", "unit"


def follow_address() -> None:
    """Take job and unit from the address where it names them, and keep them in the address otherwise.

    A reload, a restart of the server or a link sent to another tablet thereby
    goes on with the same job.
    """
    state = _state()
    params = st.query_params
    if _JOB in params and not state["moved"]:
        state[_JOB] = params[_JOB]
    if params.get(_UNIT) in UNITS and not state["moved"]:
        state[_UNIT] = params[_UNIT]
    state["moved"] = False
    for name in (_JOB, _UNIT):
        if state[name] and params.get(name) != state[name]:
            params[name] = state[name]
        elif not state[name] and name in params:
            del params[name]


def job_id() -> str | None:
    """Id of the open job, or None."""
    return _state()[_JOB]


def case() -> dict | None:
    """The open job's case as the shop book holds it now; None without a job, or when the book has none of that id."""
    name = job_id()
    return cached.shop_book().open(name) if name else None


def log() -> tuple[dict, ...]:
    """Everything done in the open job, as the shop book's log holds it."""
    return cached.shop_book().log(job_id()) if job_id() else ()


def start(new_case: dict) -> str:
    """Put `new_case` into the shop book as a new job and open it; its id."""
    name = cached.shop_book().new_job(new_case)
    open_job(name)
    return name


def open_job(name: str | None) -> None:
    """Make `name` the open job of this visit (None: no job)."""
    _state()[_JOB] = name
    _state()["moved"] = True


def save(changed: dict, event: dict, said: str = "Saved.") -> None:
    """Write `changed` and what was done into the shop book; only then may the screen say `said`."""
    cached.shop_book().save(job_id(), changed, event)
    _state()["notice"] = said


def unit() -> str:
    """The temperature unit to read in: degC or degF."""
    return _state()[_UNIT] or "degC"


def unit_of(job: object) -> str:
    """The unit the engine's `job` is read in: the chosen temperature unit, or the one its quantity has."""
    return unit() if job.setup.quantity.unit == "degC" else job.setup.quantity.unit


def set_unit(chosen: str) -> None:
    """Read temperatures in `chosen` from now on."""
    _state()[_UNIT] = chosen
    _state()["moved"] = True


def complaint() -> tuple[str, ...]:
    """Ids of what was chosen on the first screen, in order."""
    return tuple(_state()["complaint"])


def add_complaint(entry_id: str, field: str) -> None:
    """Add `entry_id` to what brings the vehicle in and empty the text `field` it was found with."""
    if entry_id not in _state()["complaint"]:
        _state()["complaint"].append(entry_id)
    st.session_state[field] = ""


def drop_complaint(entry_id: str) -> None:
    """Take `entry_id` off again."""
    _state()["complaint"].remove(entry_id)


def choose(field: str, value: str) -> None:
    """Set the select box `field` to `value`; for the callback of a button that stands for the choice."""
    st.session_state[field] = value


def say(text: str) -> None:
    """Keep a note for the screen shown next."""
    _state()["notice"] = text


def take_notice() -> str:
    """The note to show once, "" when there is none."""
    text, _state()["notice"] = _state()["notice"], ""
    return text


def _state() -> dict:
    return st.session_state.setdefault(_KEY, {_JOB: None, _UNIT: None, "moved": False, "notice": "", "complaint": []})
