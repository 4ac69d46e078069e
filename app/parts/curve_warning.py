"""Owns what to know about a published curve before leaning on it: warned of, never corrected."""

from collections.abc import Sequence

import streamlit as st

from app import wording
from engine.curves import Curve


def show(kb: object, curves: Sequence[Curve]) -> None:
    """The warning of each of `curves` that has one; curves typed by hand have none."""
    published = {row.id: row for row in (*kb.tables.curves, *kb.tables.lines)}
    for curve in curves:
        row = published.get(curve.id)
        if row is not None and row.warning:
            st.warning(wording.plain(f"Curve {row.label}: {row.warning}"), icon=":material/show_chart:")
