"""Owns the refused sensor kinds: the one picked with its reason and what the trade does instead, never a value."""

import streamlit as st

from app import sentences, wording
from app.parts import candidate


def show(kb: object, rows: tuple) -> None:
    """A field to pick one of the refused ReviewRows, hazards first, and why it is refused."""
    refused = {row.sensor: row.label for row in rows if row.refused}
    ranks = list(sentences.REFUSED_FOR)
    order = sorted(refused, key=lambda sensor: (ranks.index(kb.refusal(sensor).kind), refused[sensor].casefold()))
    st.header("Where no stand-in serves")
    st.text(f"{len(refused)} sensors take none. Each has its reason and the check that serves instead.")
    picked = st.selectbox("Why, and what to do instead", order, index=None, key="refused-kind", placeholder="Pick or type a sensor",
                          format_func=lambda sensor: f"{wording.title(refused[sensor])} ({sentences.REFUSED_FOR[kb.refusal(sensor).kind]})")
    if picked is not None:
        with st.container(border=True):
            st.subheader(wording.plain(wording.title(refused[picked])))
            candidate.refusal(kb.refusal(picked), picked)
