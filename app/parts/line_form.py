"""Owns the form for what is known better about a three-wire circuit than the knowledge assumes."""

import streamlit as st

from app import typed, wording

_USUAL = "the usual ones"
_VOLTS = {"reference_v": "Supply volts", "low_limit_v": "A code sets below (volts)", "high_limit_v": "A code sets above (volts)",
          "learned_v": "Volts the module has learned at rest"}
_PULLS = {"": "not known", "down": "to 0 V", "up": "to the supply's volts"}


def show(kb: object, case: dict, unit: str) -> dict | None:
    """The case with the typed circuit, once the form was sent; None before. Raises OhmwrightError for what does not fit."""
    before = case.get("circuit") or {}
    with st.form("line-form"):
        line, points = _line(kb, case["sensor"], before.get("line"), unit)
        pull = st.selectbox("With the plug open the signal goes", list(_PULLS), format_func=_PULLS.get, key="line-pull",
                            index=list(_PULLS).index(before.get("pull", "")))
        label = "The day's air pressure" if unit == "kPa" else "Its value at rest, as learned or printed"
        held = case.get("surroundings")
        around = st.number_input(f"{label} ({wording.DEGREE[unit]})", value=held["value"] if isinstance(held, dict) else held,
                                 step=1.0, format="%g", placeholder="not known", key=f"line-rest-{unit}")
        st.subheader("More, if known")
        known = {name: st.number_input(label, value=before.get(name), min_value=0.0, max_value=30.0, step=0.01,
                                       placeholder="not known", key=f"line-{name}") for name, label in _VOLTS.items()}
        load = st.text_input("Load of the signal input (ohms)", max_chars=40, placeholder="not known, or 220k", key="line-load",
                             value=f"{before['input_ohm']:g}" if before.get("input_ohm") is not None else "")
        if not st.form_submit_button("Save what is known", type="primary", width="stretch", key="line-save"):
            return None
    known |= {"pull": pull or None, "input_ohm": typed.ohms_or_none(load, "circuit.input_ohm")}
    if points.strip():
        known["line"] = {"unit": unit, "points": typed.line_points(points, unit)}
    elif line != _USUAL:
        known["line"] = line
    changed = {**case, "circuit": {name: value for name, value in known.items() if value is not None},
               "surroundings": None if around is None else {"value": around, "unit": unit}}
    return {name: value for name, value in changed.items() if value is not None}


def _line(kb: object, sensor: str, before: object, unit: str) -> tuple[str, str]:
    lines = {line.id: line.label for line in kb.lines(sensor)}
    options = [_USUAL, *lines]
    chosen = st.selectbox("Line this module expects", options, key="line-line", format_func=lambda option: lines.get(option, option),
                          index=options.index(before) if before in options else 0)
    written = "\n".join(f"{share:g} {value:g}" for share, value in before["points"]) if isinstance(before, dict) else ""
    points = st.text_area(f"Or its own points, one a line: volts, or share of the supply, and {wording.DEGREE[unit]}", value=written,
                          max_chars=2000, placeholder="0.5 0\n4.5 100", key=f"line-points-{unit}")
    return chosen, points
