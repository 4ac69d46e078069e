"""Owns the one field that takes symptoms, trouble codes and sensors, and the list of what was chosen."""

import streamlit as st

from app import job_state, wording
from app.parts import code_setting

MOST_SHOWN = 8
_KIND = {"symptom": "symptom", "code": "code", "sensor": "sensor"}


def show(kb: object) -> tuple[str, ...]:
    """Draw the field and the chosen entries; their ids in the order they were chosen."""
    typed = st.text_input("Trouble code, symptom or sensor", key="complaint-text", live=True, max_chars=120,
                          placeholder="P0118, shows -40, gauge stays cold …", icon=":material/search:")
    chosen = job_state.complaint()
    if typed.strip():
        _results(kb, typed, chosen)
    labels = {entry.id: entry.label for entry in kb.entries()}
    for entry_id in chosen:
        with st.container(horizontal=True, vertical_alignment="center", border=True):
            st.text(labels[entry_id], width="stretch")
            st.button("Take off", key=f"off-{entry_id}", on_click=job_state.drop_complaint, args=(entry_id,))
        code_setting.show(kb, (entry_id,))
    return chosen


def _results(kb: object, typed: str, chosen: tuple[str, ...]) -> None:
    found = [entry for entry in kb.find(typed) if entry.id not in chosen][:MOST_SHOWN]
    if not found:
        st.text("Nothing of that name. Try another word, or the code's digits.")
    for entry in found:
        st.button(wording.plain(_label(entry)), key=f"add-{entry.id}", width="stretch",
                  on_click=job_state.add_complaint, args=(entry.id, "complaint-text"))


def _label(entry: object) -> str:
    named = entry.label if entry.kind != "code" or entry.id in entry.label else f"{entry.id} · {entry.label}"
    return f"{named} ({_KIND[entry.kind]})"
