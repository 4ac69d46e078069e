"""Owns finding kept jobs: by words, code, symptom or sensor kind; every typed word shown as text only."""

import streamlit as st

from app import cached, job_state, sentences, wording

MOST_SHOWN = 30


def show(kb: object) -> None:
    """The field to search with and a box for each kept job found."""
    words = st.text_input("Words, code, symptom or sensor", key="book-words", max_chars=120, live=True,
                          icon=":material/search:")
    found = cached.shop_book().find(words)
    found = [kept for kept in found if kept.id != job_state.job_id()]
    more = f", the latest {MOST_SHOWN} shown" if len(found) > MOST_SHOWN else ""
    st.text(f"{len(found)} {'job' if len(found) == 1 else 'jobs'}{more}")
    for kept in found[:MOST_SHOWN]:
        with st.container(border=True):
            _kept(kb, kept)


def _kept(kb: object, kept: object) -> None:
    ended = wording.place(kb, kept.location, kept.sensor) if kept.location else "still open"
    st.subheader(wording.plain(wording.title(f"{kb.sensor(kept.sensor).label}: {ended}")))
    st.text(" · ".join([f"Job {kept.id}", kept.opened_at[:10], *(_complaint(kb, one) for one in kept.complaint)]))
    refusal = kb.refusal(kept.sensor)
    if refusal is not None and refusal.kind == "hazard":
        st.warning(wording.plain(sentences.NOTES_HIDDEN), icon=":material/block:")
        return
    if kept.closed_at:
        st.text(f"Repaired: {kept.repaired or 'not said'}")
        st.text({True: "The proof passed.", False: "The proof did not pass."}.get(kept.proof_passed, "Proof not tried."))
    if kept.note:
        st.text(kept.note)
    if st.button("Open it again", key=f"reopen-{kept.id}"):
        job_state.open_job(kept.id)
        st.switch_page("screens/next_step.py")


def _complaint(kb: object, entry_id: str) -> str:
    known = {entry.id: entry for entry in kb.entries()}.get(entry_id)
    return entry_id if known is None else f"{entry_id} {known.label}" if known.kind == "code" else known.label
