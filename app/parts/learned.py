"""Owns what the readings taught about the circuit beside the fault, and taking it for this sensor from now on."""

import streamlit as st

from app import cached, job_state, sentences, wording
from app.parts import keep, problem
from engine.errors import OhmwrightError


def show(case: dict, job: object, verdict: object) -> None:
    """One sentence with its spread; where it is narrow enough, the ways to use and to keep it."""
    said = sentences.learned(verdict.learned, job_state.unit_of(job))
    if not said:
        return
    with st.expander("What else the readings taught", icon=":material/school:"):
        st.text(wording.together(said))
        circuit = job.learned_circuit()
        if not circuit:
            st.text("Not narrow enough yet to be used as known.")
            return
        whole = {**(case.get("circuit") or {}), **circuit}
        st.text("The readings stay as they are; the circuit then counts as known.")
        if st.button("Use this circuit from now on", key=f"learned-use-{len(job.readings)}", width="stretch"):
            keep.show({**case, "circuit": whole}, {"event": "circuit", "circuit": whole}, "Saved. The learned circuit is used.")
        _keep_in_book(case["sensor"], whole, f"learned-{len(job.readings)}")


def _keep_in_book(sensor: str, circuit: dict, mark: str) -> None:
    with st.form(f"{mark}-form"):
        name = st.text_input("Name it, to find it again on the next one", max_chars=80, key=f"{mark}-name",
                             placeholder="small vans, second series")
        if not st.form_submit_button("Keep this circuit in the shop book", width="stretch", key=f"{mark}-keep"):
            return
    try:
        cached.shop_book().keep_circuit(name, sensor, circuit)
    except OhmwrightError as mistake:
        problem.show(mistake)
        return
    st.success(wording.plain(f"Saved. {name.strip()} is in the shop book."), icon=":material/check:")
