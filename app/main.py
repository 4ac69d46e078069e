"""Owns the frame around every screen: look, navigation, the open job's strip, and the guard that keeps traces off it."""

import logging
from pathlib import Path

import streamlit as st

from app import job_state, wording
from app.parts import header, problem, tablet_link
from engine.errors import OhmwrightError

st.set_page_config(page_title="Ohmwright", page_icon=Path(__file__).with_name("static") / "icon.png",
                   layout="centered", initial_sidebar_state="auto", menu_items={})
page = st.navigation([
    st.Page("screens/complaint.py", title="What brings it in", default=True,
            help="Say the symptom, trouble code or sensor, and start a job."),
    st.Page("screens/circuit.py", title="The circuit", url_path="circuit",
            help="What the circuit is taken to be, before any measuring."),
    st.Page("screens/dial_sheet.py", title="Dial sheet", url_path="dial-sheet",
            help="Which ohms to set for which temperature, and what the live data will show."),
    st.Page("screens/next_step.py", title="Next step", url_path="next-step",
            help="What to do now; type what it showed."),
    st.Page("screens/book.py", title="Shop book", url_path="shop-book",
            help="Keep this job, find earlier ones."),
    st.Page("screens/suits.py", title="Which sensors suit", url_path="which-sensors-suit",
            help="Every sensor kind: how far a stand-in serves it."),
], position="top")
try:
    job_state.follow_address()
    tablet_link.show()
    header.show()
    page.run()
except OhmwrightError as mistake:
    problem.show(mistake)
except Exception:
    logging.getLogger("ohmwright").exception("a screen failed")
    st.error(wording.PROBLEM)
