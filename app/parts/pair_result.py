"""Owns the settings for two tracks at once: each listed relation, what to set on both, and what one alone brings about."""

import streamlit as st

from app import wording
from app.parts import table
from engine.tracks import ONE_ALONE, alone, pair_setting

HEAD = ("At", "First track", "Second track")
VALUES = (0.0, 25.0, 50.0, 75.0, 100.0)


def show(kb: object, job: object) -> None:
    """The box of listed relations and the settings that keep the chosen one; nothing for kinds of one track."""
    pairs = kb.track_pairs(job.sensor)
    if not pairs:
        return
    st.header("Both tracks")
    st.text(ONE_ALONE)
    pair = st.selectbox("How the two tracks go together", pairs, format_func=lambda one: wording.title(one.label), key="track-pair")
    tracks = kb.tracks(pair.id, job.circuit.reference_v or 5.0)
    settings = [pair_setting(tracks, value) for value in VALUES]
    if settings[0].refused:
        st.warning(wording.plain(settings[0].refused), icon=":material/block:")
        return
    table.show(HEAD, [(wording.temperature(one.value, "percent"), _cell(one.first, one.first_v), _cell(one.second, one.second_v))
                      for one in settings])
    if min(one.room for one in settings) < 0.0:
        st.info("A single-turn potentiometer is too coarse for this relation: use ten-turn ones, or fixed resistors.")
    seen = alone(tracks, VALUES[2])
    codes = f" Expect {', '.join(pair.codes)}." if pair.codes else ""
    st.text(f"With one track at half and the other at rest they stand {wording.temperature(abs(seen.percent), 'percent')} apart. "
            f"{pair.reaction}{codes} That code proves nothing.")


def _cell(share: float, volts: float) -> str:
    return f"{wording.share(share)}, {wording.volts(volts)}"
