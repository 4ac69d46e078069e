"""Owns the measurements that say nothing: why, what to do again, and taking one back; they are never averaged in."""

import streamlit as st

from app import sentences, wording
from app.parts import take_back


def show(kb: object, case: dict, job: object, verdict: object) -> None:
    """A warning for each void reading, with a button that takes it back."""
    for one in verdict.void:
        st.warning(wording.plain(sentences.void(kb, job, one)), icon=":material/block:")
        if st.button("Take this one back", key=f"void-{len(job.readings)}-{one.reading}", width="stretch"):
            take_back.show(case, one.reading)
