"""Owns the way from a verdict to a repair that is proven: did connecting alone cure it, the repair, the proof."""

import streamlit as st

from app import job_state, wording
from app.parts import cautions, code_setting

_CURED = {"no": "No, still wrong", "yes": "Yes, it reads right now"}
# Nothing was connected wrongly or loosely where the reading is true or the test itself was at fault.
_NOT_ASKED = ("none", "set-up")


def show(kb: object, case: dict, verdict: object) -> None:
    """What to do about the likeliest fault of a proven `verdict`, and the question to ask before doing it."""
    fault_id = next(fault.id for fault in verdict.faults if fault.location == verdict.location)
    action = kb.action(fault_id)
    answer = "no" if verdict.location in _NOT_ASKED else _cured()
    st.subheader(wording.plain(action.label))
    cautions.show(kb.cautions(action.id))
    st.text(action.repair)
    st.text(f"{wording.title(wording.minutes(action.minutes))}.")
    st.subheader("Then prove it")
    st.text(action.proof)
    code_setting.show(kb, case.get("complaint", ()))
    if st.button("Next: keep this job", type="primary", width="stretch", disabled=answer is None):
        job_state.save(case, {"event": "verdict", "fault": fault_id, "cured_by_connecting": answer == "yes"})
        st.switch_page("screens/book.py")


def _cured() -> str | None:
    st.subheader("First: repair nothing, original sensor back on")
    answer = st.radio("Does it read right now?", tuple(_CURED), index=None, format_func=_CURED.get, horizontal=True,
                      key="cured")
    if answer == "yes":
        st.warning("Connecting alone cured it: a contact was poor where you connected. "
                   "Look at those terminals before fitting any part.", icon=":material/warning:")
    return answer
