"""Owns which test is next: the one advised, the one to take again, or the one the technician insists on."""

import streamlit as st


def field(job: object) -> str:
    """Key of the select box that names the test wanted instead of the one advised."""
    return f"insist-{len(job.readings)}"


def show(kb: object, job: object, advice: tuple, verdict: object) -> tuple[object | None, object | None]:
    """The engine TestKind to do now and the Advice for it; (None, None) when nothing is to be done."""
    kinds = {kind.id: kind for kind in job.tests}
    first = _first(job, advice, verdict)
    with st.expander("I want another test" if first else "I want one more test", icon=":material/swap_horiz:"):
        chosen = st.selectbox("Test", ["", *kinds], key=field(job), label_visibility="collapsed",
                              format_func=lambda test: kb.test(test, job.sensor).label if test else "the one advised" if first
                              else "no other")
    test = chosen or first
    if test is None:
        return None, None
    return kinds[test], next((one for one in advice if one.test == test), None)


def _first(job: object, advice: tuple, verdict: object) -> str | None:
    """The test to do unless the technician wants another; after a proven verdict there is none."""
    if verdict.state == "nothing-fits" and verdict.misfit is not None:
        return job.readings[verdict.misfit].test
    return advice[0].test if advice and verdict.state == "open" else None
