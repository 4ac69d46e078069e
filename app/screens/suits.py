"""Owns the screen that says which sensor kinds a stand-in serves, and why the others are refused."""

import streamlit as st

from app import cached, job_state
from app.parts import in_hand, refusals, suits_table

kb = cached.knowledge()
st.header("Which sensors suit a stand-in?")
stand_in = (job_state.case() or {}).get("stand_in")
in_hand.show(kb, stand_in)
rows = cached.review(stand_in)
# Above the table: below it nobody on a phone would find it.
refusals.show(kb, rows)
st.header("Where one does")
suits_table.show(kb, rows, job_state.unit())
