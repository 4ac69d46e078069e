"""Owns the first screen: what brings the vehicle in, and which sensor kinds that implicates."""

import streamlit as st

from app import cached
from app.parts import candidate, complaint_field, fault_tree

kb = cached.knowledge()
st.header("What brings the vehicle in?")
chosen = complaint_field.show(kb)
if chosen:
    found = kb.candidates(*chosen)
    st.header("Which sensor?")
    if not found:
        st.text("The knowledge leads from this to no sensor. Add a code or another symptom.")
    for number, one in enumerate(found):
        candidate.show(kb, one, chosen, first=number == 0, alone=len(found) == 1)
    if found:
        fault_tree.show(kb, chosen)
