"""Owns the first screen: what brings the vehicle in, and which sensor kinds that implicates."""

import streamlit as st

from app import cached
from app.parts import candidates, complaint_field, fault_tree

kb = cached.knowledge()
st.header("What brings the vehicle in?")
chosen = complaint_field.show(kb)
if chosen:
    st.header("Which sensor?")
    if candidates.show(kb, chosen):
        fault_tree.show(kb, chosen)
    else:
        st.text("The knowledge leads from this to no sensor. Add a code or another symptom.")
