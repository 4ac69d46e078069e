"""Owns making a fault come that comes and goes: the conditions to provoke it with, and what each has shown."""

import streamlit as st

from app import job_state, sentences, wording

_LEADING, _LEADING_FROM = 4, 0.05


def wanted(kb: object, job: object, verdict: object) -> bool:
    """Whether the complaint says that it comes and goes, or such a fault is among the leading ones."""
    leading = [fault for fault in verdict.faults if fault.p >= _LEADING_FROM][:_LEADING]
    return "intermittent" in job.setup.signs or any(kb.fault(fault.id).intermittent for fault in leading)


def show(job: object, field: str) -> None:
    """A button for each condition this circuit's tests can provoke; `field` is the select box that names the test to do."""
    with st.expander("It comes and goes: provoke it", icon=":material/vibration:", expanded="intermittent" in job.setup.signs):
        st.text(sentences.PROVOKE)
        admitted = {kind.id for kind in job.tests}
        for test, condition in wording.PROVOKING.items():
            if test in admitted:
                seen = sentences.provoked(job, test)
                st.button(wording.plain(f"{condition}: {seen}" if seen else condition), key=f"provoke-{len(job.readings)}-{test}",
                          width="stretch", on_click=job_state.choose, args=(field, test))
