"""Owns the form for what is known better about the circuit than the knowledge assumes."""

import streamlit as st

from app import job_state, typed, wording

_FIRST = {"reference_v": "Reference volts"}
_MORE = {"open_v": "Volts at the plug, unplugged", "short_v": "Volts at the plug, pins bridged",
         "low_limit_v": "A code sets below (volts)", "high_limit_v": "A code sets above (volts)",
         "battery_v": "Battery volts"}
_USUAL = "the usual ones"


def show(kb: object, case: dict) -> dict | None:
    """The case with the typed circuit, once the form was sent; None before. Raises OhmwrightError for what does not fit."""
    before, unit = case.get("circuit") or {}, job_state.unit()
    with st.form("circuit-form"):
        resistor = _ohms("Input resistor (ohms)", "pull_up_ohm", before)
        volts = _volts(_FIRST, before)
        curve, points = _curve(kb, case["sensor"], before.get("curve"), unit)
        around = _temperature("Temperature around the sensor", "around", case.get("surroundings"), unit)
        st.subheader("More, if known")
        volts |= _volts(_MORE, before)
        bits = st.number_input("Converter bits", value=before.get("bits"), min_value=6, max_value=24, step=1,
                               placeholder="not known", key="circuit-bits")
        default = _temperature("Number shown after a code", "default", before.get("default"), unit)
        second = _ohms("Second input resistor, if it switches (ohms)", "second_pull_up_ohm", before)
        switch = _temperature("It switches at", "switch", before.get("switch_at"), unit)
        if not st.form_submit_button("Save what is known", type="primary", width="stretch", key="circuit-save"):
            return None
    known = {**volts, "bits": bits, "default": default, "switch_at": switch,
             "pull_up_ohm": typed.ohms_or_none(resistor, "circuit.pull_up_ohm"),
             "second_pull_up_ohm": typed.ohms_or_none(second, "circuit.second_pull_up_ohm")}
    if points.strip():
        known["curve"] = {"quantity": "temperature", "unit": unit, "points": typed.curve_points(points)}
    elif curve != _USUAL:
        known["curve"] = curve
    changed = {**case, "circuit": {name: value for name, value in known.items() if value is not None},
               "surroundings": around}
    return {name: value for name, value in changed.items() if value is not None}


def _volts(labels: dict[str, str], before: dict) -> dict[str, float | None]:
    return {name: st.number_input(label, value=before.get(name), min_value=0.0, max_value=60.0, step=0.01,
                                  placeholder="not known", key=f"circuit-{name}") for name, label in labels.items()}


def _ohms(label: str, name: str, before: dict) -> str:
    value = f"{before[name]:g}" if before.get(name) is not None else ""
    return st.text_input(label, value=value, max_chars=40, placeholder="not known, or 2200, 2.2k", key=f"circuit-{name}")


def _temperature(label: str, name: str, before: dict | None, unit: str) -> dict | None:
    value = None if before is None else wording.reread(before["value"], before["unit"], unit)
    found = st.number_input(f"{label} ({wording.DEGREE[unit]})", value=value, step=1.0, format="%g",
                            placeholder="not known", key=f"circuit-{name}-{unit}")
    return None if found is None else {"value": found, "unit": unit}


def _curve(kb: object, sensor: str, before: object, unit: str) -> tuple[str, str]:
    curves = {curve.id: curve.label for curve in kb.curves(sensor)}
    options = [_USUAL, *curves]
    chosen = st.selectbox("Curve of the sensor this module expects", options, key="circuit-curve",
                          index=options.index(before) if before in options else 0,
                          format_func=lambda option: curves.get(option, option))
    written = "\n".join(f"{wording.reread(degrees, before['unit'], unit):g} {ohm:g}" for degrees, ohm in before["points"]
                        ) if isinstance(before, dict) else ""
    points = st.text_area(f"Or its own points, one a line: {wording.DEGREE[unit]} and ohms", value=written, max_chars=4000,
                          placeholder="20 2500\n80 330", key=f"circuit-points-{unit}")
    return chosen, points
