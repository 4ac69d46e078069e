"""Owns the lock before a test that bridges pins: why it is locked, the test that opens it, the diagram, and its take-back."""

import streamlit as st

from app import job_state, pins, sentences, wording
from app.parts import cautions


def show(kb: object, case: dict, job: object, kind: object, field: str) -> None:
    """Why the test `kind` is locked and the two ways on; `field` is the select box that names the test to do."""
    words = kb.test(kind.id, job.sensor)
    st.subheader(wording.plain(words.label))
    st.warning(wording.plain(sentences.LOCKED), icon=":material/lock:")
    cautions.show(words.cautions)
    if pins.FIND_PINS in {test.id for test in job.tests}:
        st.button(wording.plain(kb.test(pins.FIND_PINS, job.sensor).label), key=f"lock-find-{len(job.readings)}", type="primary",
                  width="stretch", on_click=job_state.choose, args=(field, pins.FIND_PINS))
    if st.button("The diagram names the pins", key=f"lock-diagram-{len(job.readings)}", width="stretch"):
        job_state.save(case, {"event": pins.KNOWN_EVENT, "by": "diagram"}, sentences.PINS_KNOWN)
        st.rerun()


def take_back(case: dict, job: object) -> None:
    """What the diagram is said to name, and the way to take that back; nothing where only a test found the pins."""
    if not pins.from_diagram(job_state.log()):
        return
    with st.container(horizontal=True, vertical_alignment="center"):
        st.text(sentences.PINS_KNOWN, width="content")
        if st.button("Take that back", key=f"lock-back-{len(job.readings)}"):
            job_state.save(case, {"event": pins.TAKEN_BACK_EVENT}, sentences.PINS_UNKNOWN)
            st.rerun()
