"""Owns the dial sheet screen: what is in hand, which ohms to set for which temperature, and what that will show."""

import streamlit as st

from app import typed
from app.parts import curve_warning, dial_result, divide_result, keep, open_job, pair_result, problem, stand_in_form, wanted
from engine.errors import OhmwrightError

opened = open_job.show()
unit = opened.unit
st.header("What stand-in is in hand?")
has_one = bool(opened.case.get("stand_in"))
with st.expander("Stand-in and meter", expanded=not has_one, icon=":material/tune:"):
    try:
        changed = stand_in_form.show(opened.case)
    except OhmwrightError as mistake:
        problem.show(mistake)
        changed = None
    if changed:
        keep.show(changed, {"event": "stand-in", "stand_in": changed["stand_in"], "meter": changed["meter"]})
if has_one:
    st.header("Dial sheet")
    sensor, three_wire = opened.kb.sensor(opened.case["sensor"]), opened.job.setup.three_wire is not None
    text, curve = (divide_result.wanted if three_wire else wanted.show)(sensor, opened.job, unit)
    curve_warning.show(opened.kb, (curve,))
    try:
        if three_wire:
            divide_result.show(opened.kb, opened.job, curve, text, unit)
            pair_result.show(opened.kb, opened.job)
        else:
            dial_result.show(opened.kb, opened.job, curve, typed.temperatures(text, unit), unit)
    except OhmwrightError as mistake:
        problem.show(mistake)
if st.button("Next: what to do now", type="primary" if has_one else "secondary", width="stretch"):
    st.switch_page("screens/next_step.py")
