"""Owns what the readings taught about the circuit beside the fault."""

import streamlit as st

from app import job_state, wording

_NAMES = {"pull_up_ohm": "Input resistor", "open_v": "Volts unplugged", "curve_ohm_25": "Ohms of the curve at 25 °C"}


def show(verdict: object) -> None:
    """A line for each thing learned."""
    for name, said in _NAMES.items():
        if name in verdict.learned:
            st.text(f"{said}: {wording.interval(verdict.learned[name], job_state.unit())}")
