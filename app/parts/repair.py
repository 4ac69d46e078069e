"""Owns the way from a verdict to a repair that is proven: repair, proof step, and whether connecting alone cured it."""

import streamlit as st

from app import job_state, wording
from app.parts import cautions

_CURED = {"no": "No, still wrong", "yes": "Yes, it reads right now"}


def show(kb: object, case: dict, verdict: object) -> None:
    """What to do about the likeliest fault of a proven `verdict`, and the question to ask before doing it."""
    fault_id = next(fault.id for fault in verdict.faults if fault.location == verdict.location)
    action = kb.action(fault_id)
    st.subheader(wording.plain(action.label))
    cautions.show(kb.cautions(action.id))
    st.text(action.repair)
    st.text(f"{wording.minutes(action.minutes).capitalize()}.")
    st.subheader("Then prove it")
    st.text(action.proof)
    st.subheader("First: original sensor back on, nothing repaired. Did connecting alone cure it?")
    answer = st.radio("Did connecting alone cure it?", tuple(_CURED), index=None, format_func=_CURED.get, horizontal=True,
                      key="cured", label_visibility="collapsed")
    if answer == "yes":
        st.warning("Then a contact was poor where you connected. Look at those terminals before fitting any part.",
                   icon=":material/warning:")
    if st.button("Next: keep this job", type="primary", width="stretch", disabled=answer is None):
        job_state.save(case, {"event": "verdict", "fault": fault_id, "cured_by_connecting": answer == "yes"})
        st.switch_page("screens/book.py")
