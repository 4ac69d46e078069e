"""Owns the strip above every screen: the open job, the unit to read in, and the note after a save."""

import streamlit as st

from app import cached, job_state, wording


def show() -> None:
    """Draw the strip; a changed unit takes effect at once, and only a temperature has a unit to choose."""
    with st.container(horizontal=True, vertical_alignment="center", horizontal_alignment="distribute"):
        st.text(_job_line(), width="content")
        chosen = None if _has_one_unit() else st.segmented_control(
            "Temperatures in", job_state.UNITS, default=job_state.unit(), required=True, format_func=wording.DEGREE.get,
            label_visibility="collapsed", key="unit", persist_state="session")
    if chosen and chosen != job_state.unit():
        job_state.set_unit(chosen)
        st.rerun()
    _notice(job_state.take_notice())


def _notice(said: str) -> None:
    # The box is there even without a note: what is below keeps its place, and an open one stays open.
    with st.container():
        if said:
            st.success(wording.plain(said), icon=":material/check:")
            # Seen from the lower end of a long screen as well.
            st.toast(wording.plain(said), icon=":material/check:")


def _has_one_unit() -> bool:
    # Percent is percent, and a pressure is in kPa: there is nothing to choose.
    case = job_state.case()
    return case is not None and cached.knowledge().sensor(case["sensor"]).quantity not in ("temperature", "hot-gas")


def _job_line() -> str:
    case = job_state.case()
    if case is None:
        return "No job open"
    return f"Job {job_state.job_id()} · {cached.knowledge().sensor(case['sensor']).label}"
