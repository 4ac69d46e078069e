"""Owns one candidate sensor kind: why it is suspected, what the shop has seen, and the way to start; or the refusal."""

import streamlit as st

from app import cached, job_state, sentences, wording
from app.parts import lamp_switch


def show(kb: object, candidate: object, complaint: tuple[str, ...], *, first: bool, alone: bool) -> None:
    """Draw `candidate`; its button starts the job and leads on. `alone`: no other one to weigh it against."""
    with st.container(border=True):
        st.subheader(wording.plain(wording.title(candidate.label)))
        st.text(" → ".join(candidate.path))
        if not alone:
            st.text(f"Suspected: {wording.chance(candidate.weight)}")
        if candidate.refused:
            refusal(kb.refusal(candidate.sensor), candidate.sensor)
            return
        seen = sentences.shop_jobs(kb, cached.shop_book().tally(complaint, candidate.sensor), candidate.sensor)
        if seen:
            st.info(wording.plain(seen), icon=":material/menu_book:")
        if st.button("Start this job", key=f"start-{candidate.sensor}", width="stretch",
                     type="primary" if first else "secondary"):
            job_state.start({"format": 1, "sensor": candidate.sensor, "complaint": list(complaint), "knowledge": kb.version})
            st.switch_page("screens/circuit.py")


def refusal(refused: object, mark: str) -> None:
    """Why this kind takes no stand-in, what the trade does instead, the caution, and what works that out where anything does.

    `mark` keeps the fields of one card apart from another's.
    """
    st.error(wording.plain(f"No stand-in here. {refused.reason}"), icon=":material/block:")
    st.text(f"Instead: {refused.instead}")
    if refused.caution:
        st.warning(wording.plain(refused.caution), icon=":material/warning:")
    if refused.worked_out == "lamp-switch":
        lamp_switch.show(mark)
