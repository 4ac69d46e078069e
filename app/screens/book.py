"""Owns the shop book screen: keep the open job, find and reopen earlier ones."""

import streamlit as st

from app import cached, job_state
from app.parts import close_form, kept_jobs

if job_state.job_id():
    st.header("Keep this job")
    close_form.show()
st.header("Other jobs" if job_state.job_id() else "Jobs")
kept_jobs.show(cached.knowledge())
