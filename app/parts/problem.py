"""Owns how a mistake is shown: one sentence, whatever was typed made inert."""

import streamlit as st

from app import wording


def show(problem: object) -> None:
    """Show `problem`, an OhmwrightError or a sentence."""
    st.error(wording.plain(wording.mistake(problem)), icon=":material/error:")
