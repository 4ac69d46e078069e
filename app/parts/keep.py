"""Owns saving a changed case: checked by the engine first, written into the shop book, and only then called saved."""

import streamlit as st

from app import cached, job_state
from app.parts import problem
from engine.errors import OhmwrightError


def show(changed: dict, event: dict, said: str = "Saved.") -> None:
    """Save `changed` and run the screen again with the note `said`; a mistake is shown instead and nothing is saved."""
    try:
        cached.worked(changed)
    except OhmwrightError as mistake:
        problem.show(mistake)
        return
    job_state.save(changed, event, said)
    st.rerun()
