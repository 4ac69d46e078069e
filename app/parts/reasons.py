"""Owns the readings so far: what each said about the places, and taking one back."""

import streamlit as st

from app import job_state, verdict_words, wording
from app.parts import take_back


def show(kb: object, case: dict, job: object, verdict: object) -> None:
    """One box for each reading, in the order typed, with a button that takes it back."""
    said = {one.reading: verdict_words.because(kb, job, one, job_state.unit_of(job)) for one in verdict.because}
    for index, reading in enumerate(job.readings):
        with st.container(border=True):
            st.text(wording.together(said.get(index) or f"{kb.test(reading.test, job.sensor).label}: "
                                                        f"{wording.result(reading, job.circuit.pointer)}."))
            if st.button("Take this one back", key=f"undo-{len(job.readings)}-{index}"):
                take_back.show(case, index)
