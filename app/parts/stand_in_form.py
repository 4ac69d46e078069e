"""Owns the form that describes the stand-in and the meter in hand."""

import streamlit as st

from app import typed, wording
from engine.preferred_values import DECADES, DRAWER_HIGH_OHM, DRAWER_LOW_OHM
from engine.stand_in import StandIn

KINDS = {"potentiometer": "Potentiometer", "decade-box": "Decade box", "fixed": "Fixed resistors", "E24": "E24 drawer"}


def show(case: dict) -> dict | None:
    """The case with stand-in and meter as typed, once the form was sent; None before. Raises OhmwrightError."""
    before, meter = case.get("stand_in") or {}, case.get("meter") or {}
    series = before.get("series")
    kinds = KINDS | ({series: f"{series} drawer"} if series else {})
    kind = st.segmented_control("What is in hand?", list(kinds), default=series or before.get("kind", "potentiometer"), required=True,
                                format_func=kinds.get, key="stand-in-kind", persist_state="session")
    with st.form(f"stand-in-form-{kind}"):
        stand_in: dict = {"kind": "fixed", "series": kind} if kind in DECADES else {"kind": kind}
        parts = ends = ""
        ends_typed: dict[str, str] = {}
        if kind == "fixed":
            written = "  ".join(f"{ohm:g}" for ohm in before.get("ohms", ()))
            parts = st.text_area("Their ohms, as measured", value=written, max_chars=2000, key="stand-in-ohms",
                                 placeholder="330  1k  2.2k  4k7  10k")
        elif kind in DECADES:
            ends_typed = {name: st.text_input(label, value=f"{before[name]:g}" if before.get(name) else "", max_chars=40,
                                              placeholder=wording.ohms(usual), key=f"stand-in-{name}")
                          for name, label, usual in (("low_ohm", "Lowest value in it (ohms)", DRAWER_LOW_OHM),
                                                     ("high_ohm", "Highest value in it (ohms)", DRAWER_HIGH_OHM))}
        else:
            ends = st.text_input("Ohms end to end, as measured" if kind == "potentiometer" else "Highest ohms it sets",
                                 value=f"{before['end_to_end_ohm']:g}" if before.get("end_to_end_ohm") else "",
                                 max_chars=40, placeholder="9.4k", key="stand-in-ends")
        if kind == "potentiometer":
            stand_in["turns"] = st.number_input("Turns of the knob from end to end", value=float(before.get("turns", 1)),
                                                min_value=0.5, max_value=40.0, step=1.0, format="%g", key="stand-in-turns")
        stand_in["watts"] = st.number_input("Watts printed on it", value=float(before.get("watts", 0.25)), min_value=0.01,
                                            max_value=500.0, step=0.05, format="%g", key="stand-in-watts")
        stand_in["lead_ohm"] = st.number_input(
            "Leads and clips (ohms), 0 if measured with them", value=float(before.get("lead_ohm", StandIn.lead_ohm)),
            min_value=0.0, max_value=10.0, step=0.1, format="%g", key="stand-in-leads")
        percent = st.number_input("Meter on ohms: percent of reading", value=float(meter.get("ohm_percent", 0.8)),
                                  min_value=0.0, max_value=20.0, step=0.1, format="%g", key="meter-percent")
        digits = st.number_input("Meter on ohms: last digits", value=float(meter.get("ohm_digits", 2)), min_value=0.0,
                                 max_value=100.0, step=1.0, format="%g", key="meter-digits")
        if not st.form_submit_button("Save the stand-in", type="primary", width="stretch", key="stand-in-save"):
            return None
    if kind == "fixed":
        stand_in["ohms"] = typed.ohm_list(parts, "stand_in.ohms")
    elif kind == "potentiometer" or (kind not in DECADES and ends.strip()):
        stand_in["end_to_end_ohm"] = typed.ohms_or_none(ends, "stand_in.end_to_end_ohm")
    stand_in |= {name: typed.ohms_or_none(text, f"stand_in.{name}") for name, text in ends_typed.items()}
    return {**case, "stand_in": {name: value for name, value in stand_in.items() if value is not None},
            "meter": {**meter, "ohm_percent": percent, "ohm_digits": digits}}
