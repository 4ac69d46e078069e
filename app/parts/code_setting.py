"""Owns when a trouble code can set at all; its absence never counts as passed."""

from collections.abc import Sequence

import streamlit as st

from app import sentences


def show(kb: object, complaint: Sequence[str]) -> None:
    """A line for each code among the entries of `complaint`."""
    codes = {entry.id for entry in kb.entries() if entry.kind == "code"}
    for entry in complaint:
        if entry in codes:
            st.text(f"{entry}. {sentences.enabling(kb.enable(entry))}")
