"""Owns the form for what is known better about the circuit than the knowledge assumes."""

import streamlit as st

from app import typed, wording
from engine.errors import InputError

_FIRST = {"reference_v": "Reference volts"}
_MORE = {"open_v": "Volts at the plug, unplugged", "short_v": "Volts at the plug, pins bridged",
         "low_limit_v": "A code sets below (volts)", "high_limit_v": "A code sets above (volts)",
         "battery_v": "Battery volts"}
_OF_GAUGE = {"open_v": "Volts at the sender's wire, taken off", "battery_v": "Battery volts"}
_USUAL = "the usual ones"


def show(kb: object, case: dict, unit: str) -> dict | None:
    """The case with the typed circuit, once the form was sent; None before. Raises OhmwrightError for what does not fit."""
    before = case.get("circuit") or {}
    gauge = kb.sensor(case["sensor"]).quantity == "gauge"
    with st.form("circuit-form"):
        goes = _open_goes(before) if gauge else None
        resistor = _ohms("The gauge's coil (ohms)" if gauge else "Input resistor (ohms)", "pull_up_ohm", before)
        known = _volts({"reference_v": "Feed volts, behind a regulator"} if gauge else _FIRST, before)
        curve, points = _curve(kb, case["sensor"], before.get("curve"), unit, gauge=gauge)
        label = ("Where the needle should stand" if gauge else "Level in the tank" if unit == "percent"
                 else "Temperature around the sensor")
        around = _value(label, "around", case.get("surroundings"), unit)
        st.subheader("More, if known")
        # A gauge has no converter, sets no codes and switches nothing.
        known |= _volts(_OF_GAUGE if gauge else _MORE, before)
        switching = {}
        if not gauge:
            known["bits"] = st.number_input("Converter bits", value=before.get("bits"), min_value=6, max_value=24, step=1,
                                            placeholder="not known", key="circuit-bits")
            known |= _after_a_code(before, unit)
            switching = _switching(before, unit)
        other = _second_instrument(before)
        if not st.form_submit_button("Save what is known", type="primary", width="stretch", key="circuit-save"):
            return None
    known |= {"open_goes": goes, "pull_up_ohm": typed.ohms_or_none(resistor, "circuit.pull_up_ohm"), **_switched(switching), **_other(other)}
    if not gauge:
        known["default"] = _span(known.pop("default"), known.pop("default_high"))
    if points.strip():
        quantity = "level" if unit == "percent" else "temperature"
        known["curve"] = {"quantity": quantity, "unit": unit, "points": typed.curve_points(points, unit)}
    elif curve != _USUAL:
        known["curve"] = curve
    changed = {**case, "circuit": {name: value for name, value in known.items() if value is not None},
               "surroundings": around if around is None or unit != "percent" else {"value": around, "unit": unit}}
    return {name: value for name, value in changed.items() if value is not None}


def _open_goes(before: dict) -> str | None:
    """Which end an open plug sends the needle to: asked, never inferred from ohms."""
    ends = {"low": "the low end, or empty", "high": "the high end, or beyond full"}
    return st.radio("With the sender's wire off, the needle goes to", tuple(ends), format_func=ends.get, horizontal=True,
                    index=list(ends).index(before["open_goes"]) if before.get("open_goes") else None, key="circuit-open-goes")


def _after_a_code(before: dict, unit: str) -> dict:
    st.subheader("After a code")
    default = before.get("default")
    low, high = default if isinstance(default, list) else (default, None)
    return {"default": _value("It shows", "default", low, unit), "default_high": _value("Or anything up to", "default-high", high, unit),
            "latched": st.checkbox("Stays until codes are cleared and the key was off", value=bool(before.get("latched")),
                                   key="circuit-latched") or None,
            "settle_s": st.number_input("Seconds until the number has settled", value=before.get("settle_s"), min_value=0.0,
                                        max_value=3600.0, step=1.0, format="%g", placeholder="not known", key="circuit-settle")}


def _switching(before: dict, unit: str) -> dict:
    st.subheader("An input that switches its resistor or is fed in pulses")
    return {"second_pull_up_ohm": _ohms("Second input resistor (ohms)", "second_pull_up_ohm", before),
            "switch_at": _value("It switches at", "switch", before.get("switch_at"), unit),
            "switch_band": _width("From switching up to switching back", before.get("switch_band"), unit),
            "strobed": st.checkbox("Fed in pulses: a meter shows an average", value=bool(before.get("strobed")), key="circuit-strobed")}


def _second_instrument(before: dict) -> dict:
    st.subheader("A second instrument on the same wire")
    other = before.get("second_instrument") or {}
    return {"open_v": _volts({"open_v": "Its volts, alone on the open wire"}, other, "other-")["open_v"],
            "pull_up_ohm": _ohms("Its input resistor (ohms)", "pull_up_ohm", other, "other-")}


def _switched(switching: dict) -> dict:
    return switching and {**switching, "strobed": switching["strobed"] or None,
            "second_pull_up_ohm": typed.ohms_or_none(switching["second_pull_up_ohm"], "circuit.second_pull_up_ohm")}


def _other(other: dict) -> dict:
    typed_ohm = typed.ohms_or_none(other["pull_up_ohm"], "circuit.second_instrument.pull_up_ohm")
    found = {name: value for name, value in (("open_v", other["open_v"]), ("pull_up_ohm", typed_ohm)) if value is not None}
    return {"second_instrument": found or None}


def _span(low: object, high: object) -> object:
    """One number, or the lowest and the highest."""
    if high is not None and low is None:
        raise InputError("circuit.default", "only the upper end", "type the lower one as well")
    return low if high is None else [low, high]


def _volts(labels: dict[str, str], before: dict, mark: str = "") -> dict[str, float | None]:
    return {name: st.number_input(label, value=before.get(name), min_value=0.0, max_value=60.0, step=0.01,
                                  placeholder="not known", key=f"circuit-{mark}{name}") for name, label in labels.items()}


def _ohms(label: str, name: str, before: dict, mark: str = "") -> str:
    value = f"{before[name]:g}" if before.get(name) is not None else ""
    return st.text_input(label, value=value, max_chars=40, placeholder="not known, or 2200, 2.2k", key=f"circuit-{mark}{name}")


def _value(label: str, name: str, before: object, unit: str) -> dict | float | None:
    """A temperature as the case file holds it, or a level as a bare number."""
    found = st.number_input(f"{label} ({wording.DEGREE[unit]})", value=_reread(before, unit), step=1.0, format="%g",
                            placeholder="not known", key=f"circuit-{name}-{unit}")
    return found if found is None or unit == "percent" else {"value": found, "unit": unit}


def _width(label: str, before: object, unit: str) -> dict | None:
    step = wording.degree_step(unit)
    held = before if isinstance(before, dict) else {"value": before}
    value = None if before is None else round(held["value"] * step / wording.degree_step(held.get("unit", "degC")), 1)
    found = st.number_input(f"{label} ({wording.DEGREE[unit]})", value=value, min_value=0.0, max_value=100.0, step=1.0,
                            format="%g", placeholder="not known", key=f"circuit-band-{unit}")
    return None if found is None else {"value": found, "unit": "degC" if unit == "percent" else unit}


def _reread(before: object, unit: str) -> float | None:
    """What stands in the case, in the field's unit; a bare number is degC, or percent of a level."""
    if before is None:
        return None
    if isinstance(before, dict):
        return wording.reread(before["value"], before.get("unit", "degC"), unit)
    return wording.reread(before, "percent" if unit == "percent" else "degC", unit)


def _curve(kb: object, sensor: str, before: object, unit: str, *, gauge: bool) -> tuple[str, str]:
    curves = {curve.id: curve.label for curve in kb.curves(sensor)}
    options = [_USUAL, *curves]
    label = "Family of the sender this gauge expects" if gauge else "Curve of the sensor this module expects"
    chosen = st.selectbox(label, options, key="circuit-curve",
                          index=options.index(before) if before in options else 0,
                          format_func=lambda option: curves.get(option, option))
    written = ""
    if isinstance(before, dict):
        was = before.get("unit", unit)
        written = "\n".join(f"{wording.reread(value, was, unit):g} {ohm:g}" for value, ohm in before["points"])
    points = st.text_area(f"Or its own points, one a line: {wording.DEGREE[unit]} and ohms", value=written, max_chars=4000,
                          placeholder="0 10\n100 180" if unit == "percent" else "20 2500\n80 330", key=f"circuit-points-{unit}")
    return chosen, points
