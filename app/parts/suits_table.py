"""Owns the table of sensor kinds by how well a stand-in serves them, sorted by the column tapped."""

import streamlit as st

from app import suits
from app.parts import table


def show(kb: object, rows: tuple, unit: str) -> None:
    """One line for each ReviewRow of a kind that takes a stand-in."""
    order = st.segmented_control("Sort by", tuple(suits.ORDERS), default=next(iter(suits.ORDERS)), required=True,
                                 key="suits-order", persist_state="session")
    table.show(suits.HEAD, suits.lines(kb, rows, order, unit))
