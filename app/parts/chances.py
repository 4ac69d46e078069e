"""Owns the bars that say where the fault may be."""

import streamlit as st

from app import wording


def show(kb: object, locations: dict) -> None:
    """A bar for each place, likeliest first."""
    for location, share in sorted(locations.items(), key=lambda pair: (-pair[1], pair[0])):
        st.progress(min(1.0, max(0.0, share)), text=wording.plain(f"{wording.title(wording.place(kb, location))} · {wording.chance(share)}"))
