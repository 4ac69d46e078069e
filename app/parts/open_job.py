"""Owns the way a screen gets the open job, or sends the technician to start one."""

from typing import NamedTuple

import streamlit as st

from app import cached, job_state, wording
from app.parts import problem
from engine.errors import OhmwrightError


class OpenJob(NamedTuple):
    """The open job: the knowledge, the case as the shop book holds it, and what the engine makes of it."""

    kb: object
    case: dict
    worked: cached.Worked

    @property
    def job(self) -> object:
        """The engine's Job."""
        return self.worked.job

    @property
    def unit(self) -> str:
        """The unit this job is read in: degC, degF or percent."""
        return job_state.unit_of(self.job)

    @property
    def verdict(self) -> object:
        """The engine's Verdict; worked out when first asked for."""
        return self.worked.verdict

    @property
    def advice(self) -> tuple:
        """The engine's Advice, best first; worked out when first asked for."""
        return self.worked.advice


def show() -> OpenJob:
    """The open job; without one, says so, offers the first screen and ends the run."""
    case = job_state.case()
    if case is None:
        if job_state.job_id():
            problem.show("The shop book has no job of this name.")
        st.text("No job is open. Say first what brings the vehicle in.")
        st.page_link("screens/complaint.py", label="What brings it in", icon=":material/arrow_back:", width="stretch")
        st.stop()
    try:
        opened = OpenJob(cached.knowledge(), case, cached.worked(case))
    except OhmwrightError as mistake:
        problem.show(mistake)
        st.stop()
    if case.get("knowledge", opened.kb.version) != opened.kb.version:
        st.info(wording.plain(f"Begun under knowledge {case['knowledge']}, worked now under {opened.kb.version}: "
                              "the answer may differ from what was seen then."), icon=":material/update:")
    return opened
