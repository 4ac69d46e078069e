"""Owns the form that keeps the open job in the shop book: what was repaired, whether the proof passed, a note."""

import streamlit as st

from app import cached, job_state, wording
from app.parts import open_job, problem
from engine.errors import OhmwrightError

_PROOF = {"yes": "Yes", "no": "No", "not-tried": "Not tried yet"}
MOST_NOTE = 2000


def show() -> None:
    """The form for the open job; after it was sent the job is closed and the next one can start."""
    opened = open_job.show()
    places = sorted(opened.verdict.locations)
    ahead = max(places, key=lambda location: opened.verdict.locations[location])
    with st.form("close-form"):
        where = st.selectbox("Where was it?", places, index=places.index(ahead), key="close-where",
                             format_func=lambda location: wording.place(opened.kb, location, opened.job.sensor))
        repaired = st.text_input("What was repaired?", max_chars=200, key="close-repaired")
        passed = st.radio("Did the proof pass?", tuple(_PROOF), format_func=_PROOF.get, horizontal=True, key="close-proof")
        note = st.text_area("Note for the next time", max_chars=MOST_NOTE, key="close-note")
        if not st.form_submit_button("Keep this job", type="primary", width="stretch", key="close-save"):
            return
    try:
        cached.shop_book().close(job_state.job_id(), location=where, repaired=repaired, note=note,
                                 proof_passed={"yes": True, "no": False}.get(passed))
    except OhmwrightError as mistake:
        problem.show(mistake)
        return
    job_state.say(f"Saved. Job {job_state.job_id()} is in the shop book.")
    job_state.open_job(None)
    st.rerun()
