"""Owns the form for what a test showed: only the fields this test can hold."""

from collections.abc import Callable

import streamlit as st

from app import gauge_words, typed, wording
from engine.errors import InputError
from engine.procedures import MAIN_VOLTS

NUMBER = "number"
_WORDS = {NUMBER: "showed a number", "did-not-move": "did not move", "maximum": "went to maximum",
          "minimum": "went to minimum", "jumps": "jumps", "drifts": "drifts", "not-available": "not available"}
_OHMS_HELP = "330, 2.2k, 4k7, or open"
_VOLTS = {"signal_to_return_v": "Volts, signal to return", "signal_to_battery_v": "Volts, signal to battery negative",
          "supply_to_return_v": "Volts, supply to return", "supply_to_battery_v": "Volts, supply to battery negative",
          "return_to_battery_v": "Volts, return to battery negative"}
Reader = Callable[[], dict]


def show(kind: object, ohm: float | None, mark: str, unit: str, pointer: bool = False, ratio: float | None = None) -> dict | None:
    """What was typed for the engine TestKind `kind`, under the names of Job.record, once sent; None before.

    `ohm` or `ratio` is the setting advised, `unit` what the job is read in, by a
    `pointer` or segments where there is one; `mark` keeps the fields of one
    step apart from the next. Raises InputError.
    """
    with st.form(f"reading-{mark}"):
        found = _fields(kind, ohm, ratio, unit, mark, pointer)
        if not st.form_submit_button("Save the reading", type="primary", width="stretch", key=f"save-{mark}"):
            return None
    return {name: value for name, value in found().items() if value is not None}


def _fields(kind: object, ohm: float | None, ratio: float | None, unit: str, mark: str, pointer: bool) -> Reader:
    """Draw the fields of `kind`; the result reads them when called."""
    readers = []
    if "ohm" in kind.takes:
        text = st.text_input("Ohms on the stand-in, as measured", value=f"{ohm:.4g}" if ohm else "", max_chars=40,
                             placeholder="330, 2.2k, 4k7", key=f"ohm-{mark}")
        readers.append(lambda: {"ohm": typed.ohms_or_none(text, "ohms on the stand-in")})
    if "ratio" in kind.takes:
        share = st.number_input("Share set, from the return leg", value=ratio, min_value=0.0, max_value=1.0, step=0.01,
                                format="%.3f", key=f"ratio-{mark}", placeholder="0.5")
        readers.append(lambda: {"ratio": share})
    if kind.measures == "good":
        readers.append(_judged(kind, mark))
    if kind.measures == "shows":
        readers.append(_pointer(mark) if pointer else _shown(unit, mark))
    if kind.measures == "sweep":
        readers.append(_swept(unit, mark))
    if kind.needs == "at" or kind.measures == "sensor-ohms" or (kind.measures in MAIN_VOLTS and "at" in kind.takes):
        readers.append(_at(kind, unit, mark))
    if "ohms" in kind.takes:
        readers.append(_ohms(mark, among="between" in kind.takes))
    if kind.measures in MAIN_VOLTS:
        readers.append(_volts(kind, mark))
    if kind.measures == "current":
        readers.append(_current(mark))
    if kind.measures == "shows":
        with st.expander("Volts as well, if measured"):
            readers.append(_volts(kind, mark))
    return lambda: {name: value for reader in readers for name, value in reader().items()}


def _judged(kind: object, mark: str) -> Reader:
    words = dict(zip(("good", "bad"), wording.JUDGED.get(kind.id, ("All good", "Something is wrong")), strict=True))
    good = st.radio("What did you find?", tuple(words), index=None, horizontal=True, key=f"good-{mark}", format_func=words.get)
    return lambda: {"good": None if good is None else good == "good"}


def _ohms(mark: str, *, among: bool) -> Reader:
    ohms = st.text_input("Ohms the meter showed", max_chars=40, placeholder=_OHMS_HELP, key=f"ohms-{mark}")
    swapped = st.text_input("The same with the meter's leads swapped", max_chars=40, placeholder="not measured", key=f"swapped-{mark}")
    beside = st.checkbox("Something else was still plugged on, or the key was on", key=f"in-circuit-{mark}")
    others = st.text_area("Ohms among other grounds, one a line: two places and ohms", max_chars=2000, key=f"between-{mark}",
                          placeholder="throttle battery 0.8\negr battery 0.9") if among else ""
    return lambda: {"ohms": typed.ohms_or_open(ohms, "ohms the meter showed"), "between": typed.between(others),
                    "ohms_swapped": typed.ohms_or_open(swapped, "ohms with the leads swapped"), "in_circuit": beside or None}


def _at(kind: object, unit: str, mark: str) -> Reader:
    """The part's temperature or level: read beside it, or on another sensor where the two are compared."""
    needed = kind.needs == "at"
    what = "The other sensor's number" if kind.measures == "shows" else f"{wording.title(wording.MEASURED[unit])} of the sensor then"
    at = st.number_input(f"{what} ({wording.DEGREE[unit]})", value=None, step=1.0, format="%g", key=f"at-{mark}-{unit}",
                         placeholder="needed" if needed else "not known")

    def read() -> dict:
        if needed and at is None:
            raise InputError(what.lower(), "empty", "this test says nothing without it")
        return {"at": None if at is None else {"value": at, "unit": unit}}
    return read


def _current(mark: str) -> Reader:
    found = st.number_input("Milliamperes the meter showed (mA)", value=None, min_value=0.0, max_value=10_000.0, step=0.1,
                            format="%g", key=f"ma-{mark}", placeholder="2.27")
    return lambda: {"signal_ma": found}


def _shown(unit: str, mark: str) -> Reader:
    number = _number("Number shown", f"number-{mark}", unit)
    word = _word(mark)

    def read() -> dict:
        if word != NUMBER:
            return {"shows": word}
        if number is None:
            raise InputError("number shown", "empty", "type the number, or say what it did instead")
        return {"shows": number, "unit": unit}
    return read


def _pointer(mark: str) -> Reader:
    """Where a needle stands, by one tap, or how many segments are lit."""
    place = st.segmented_control("Where does the needle stand?", tuple(gauge_words.PLACES), format_func=gauge_words.PLACES.get,
                                 key=f"needle-{mark}")
    lit = st.number_input("Or segments lit", value=None, min_value=0, max_value=40, step=1, key=f"lit-{mark}", placeholder="no segments")
    out_of = st.number_input("Out of", value=None, min_value=1, max_value=40, step=1, key=f"out-of-{mark}", placeholder="no segments")
    word = _word(mark)

    def read() -> dict:
        if word != NUMBER:
            return {"shows": word}
        if lit is not None and out_of is not None:
            return {"shows": f"{lit} of {out_of}"}
        if place is None:
            raise InputError("where the needle stands", "empty", "tap it, type the segments, or say what it did instead")
        return {"shows": place}
    return read


def _swept(unit: str, mark: str) -> Reader:
    low = _number("Lowest number", f"low-{mark}", unit)
    high = _number("Highest number", f"high-{mark}", unit)
    word = _word(mark)

    def read() -> dict:
        if word != NUMBER:
            return {"shows": word}
        if low is None or high is None:
            raise InputError("lowest and highest number", "not complete", "type both, or say what it did instead")
        return {"shows": [low, high], "unit": unit}
    return read


def _number(label: str, key: str, unit: str) -> float | None:
    return st.number_input(f"{label} ({wording.DEGREE[unit]})", value=None, step=1.0, format="%g", key=f"{key}-{unit}",
                           placeholder="type it as shown")


def _word(mark: str) -> str:
    return st.selectbox("What did it do?", tuple(_WORDS), format_func=_WORDS.get, key=f"word-{mark}")


def _volts(kind: object, mark: str) -> Reader:
    found = {name: st.number_input(label, value=None, min_value=-60.0, max_value=60.0, step=0.01, key=f"{name}-{mark}",
                                   placeholder="not measured") for name, label in _VOLTS.items() if name in kind.takes}
    if kind.measures != "supply-volts":
        return lambda: found
    on = "The stand-in was on" if kind.element == "divider" else "The sensor was plugged in"
    loaded = st.checkbox(f"{on}, so that it drew current", value=True, key=f"loaded-{mark}")
    return lambda: {**found, "loaded": None if loaded else False}
