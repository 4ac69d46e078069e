"""Owns the line that says which stand-in a screen was worked out for."""

import streamlit as st

from app import wording


def show(kb: object, stand_in: dict | None) -> None:
    """The stand-in of the open job, or the usual one when none was described."""
    if stand_in is None:
        st.text(f"With a usual one: {wording.stand_in(kb, kb.usual_stand_in())}.")
    else:
        st.text(f"With the one in hand: {wording.stand_in(kb, stand_in)}.")
