"""Owns the refused sensor kinds: each with its reason and what the trade does instead, never a value."""

import streamlit as st

from app import wording
from app.parts import candidate


def show(kb: object, rows: tuple) -> None:
    """A box for each refused ReviewRow."""
    for row in rows:
        if row.refused:
            with st.container(border=True):
                st.subheader(wording.plain(wording.title(row.label)))
                candidate.refusal(kb.refusal(row.sensor))
