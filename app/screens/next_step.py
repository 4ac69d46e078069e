"""Owns the working screen: what the readings prove so far, what to do now, and what it showed."""

import streamlit as st

from app import job_state, pins, verdict_words, wording
from app.parts import (chances, choose_test, fault_tree, learned, open_job, pins_lock, problem, provoke, reading_form, reasons,
                       record, repair, severity, sides, step, supply_stop, take_back, void_readings)
from engine.errors import OhmwrightError

opened = open_job.show()
kb, case, job = opened.kb, opened.case, opened.job
with st.spinner("Working it out …"):
    verdict, all_advice = opened.verdict, opened.advice
st.header(wording.STATE[verdict.state])
st.text(verdict_words.verdict(kb, job, verdict))
supply_stop.show(job)
sides.show(kb, job)
severity.show(kb, job, verdict)
void_readings.show(kb, case, job, verdict)
if verdict.misfit is not None and st.button("Take that reading back", key=f"misfit-{len(job.readings)}", width="stretch"):
    take_back.show(case, verdict.misfit)
if verdict.state == "found":
    repair.show(kb, case, verdict)
work, other = st.container(), st.container()
with other:
    if verdict.state != "found" and provoke.wanted(kb, job, verdict):
        provoke.show(job, choose_test.field(job))
    kind, advice = choose_test.show(kb, job, all_advice, verdict)
if kind is not None:
    with work:
        st.header("Do this now")
        if pins.locked(kind) and not pins.known(job, job_state.log()):
            pins_lock.show(kb, case, job, kind, choose_test.field(job))
        else:
            step.show(kb, job, kind, advice)
            if pins.locked(kind):
                pins_lock.take_back(case, job)
            st.header("What did it show?")
            try:
                found = reading_form.show(kind, advice.ohm if advice else None, f"{len(job.readings)}-{kind.id}", opened.unit,
                                          job.circuit.pointer, advice.ratio if advice else None)
            except OhmwrightError as mistake:
                problem.show(mistake)
                found = None
            if found is not None:
                record.show(case, job, kind.id, found)
        step.why(kb, job, kind, advice)
st.header("Where it may be")
chances.show(kb, verdict.locations, job.sensor)
if job.readings:
    learned.show(case, job, verdict)
    with st.expander("Reasons, reading by reading", icon=":material/format_list_numbered:"):
        reasons.show(kb, case, job, verdict)
fault_tree.show(kb, tuple(case.get("complaint", ())), {fault.id: fault.p for fault in verdict.faults}, case["sensor"])
