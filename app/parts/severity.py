"""Owns how bad it is: the likeliest faults with their size as an interval."""

import streamlit as st

from app import job_state, wording

LIKELY = 0.05
MOST_SHOWN = 3


def show(kb: object, job: object, verdict: object) -> None:
    """A line for each of the likeliest faults; nothing before the first reading, when sizes say nothing yet."""
    if not job.readings:
        return
    for fault in [fault for fault in verdict.faults if fault.p >= LIKELY][:MOST_SHOWN]:
        size = f": {wording.interval(fault.estimate, job_state.unit_of(job))}" if fault.estimate else ""
        st.text(wording.together(f"{wording.title(kb.fault(fault.id).label)}{size} · {wording.chance(fault.p)}"))
