"""Owns the screen before measuring: does a stand-in serve here, what to beware of, what the circuit is taken to be."""

import streamlit as st

from app import wording
from app.parts import (assumed, assumed_three_wire, cautions, circuit_form, keep, line_form, offered_circuits, open_job,
                       problem)
from engine.errors import OhmwrightError

opened = open_job.show()
kind = opened.kb.sensor(opened.case["sensor"])
st.header(wording.plain(wording.title(kind.label)))
st.subheader("Does a stand-in serve here?")
st.text(kind.summary)
st.text(kind.key_state)
cautions.show(opened.kb.cautions(kind.id))
for sentence in dict.fromkeys(shared.sentence for shared in opened.kb.shares(kind.id)):
    st.info(wording.plain(sentence), icon=":material/hub:")
st.subheader("What the circuit is taken to be")
three_wire = opened.job.setup.three_wire is not None
if three_wire:
    assumed_three_wire.show(opened.kb, opened.job, opened.case)
else:
    assumed.show(opened.kb, kind.id, opened.job, opened.case)
if st.button("Next: the dial sheet", type="primary", width="stretch"):
    st.switch_page("screens/dial_sheet.py")
with st.expander("It is one that is known", icon=":material/bookmarks:"):
    offered_circuits.show(opened.kb, opened.case)
with st.expander("I know it better", icon=":material/edit:"):
    try:
        changed = (line_form if three_wire else circuit_form).show(opened.kb, opened.case, opened.unit)
    except OhmwrightError as mistake:
        problem.show(mistake)
    else:
        if changed:
            keep.show(changed, {"event": "circuit", "circuit": changed["circuit"],
                                "surroundings": changed.get("surroundings")})
