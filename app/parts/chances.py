"""Owns the bars that say where the fault may be."""

import streamlit as st

from app import wording

SHOWN_FROM = 0.01


def show(kb: object, locations: dict, sensor: str) -> None:
    """A bar for each place of the `sensor` kind with a chance of 1 % or more, likeliest first; the others in one line."""
    for location, share in sorted(locations.items(), key=lambda pair: (-pair[1], pair[0])):
        if share >= SHOWN_FROM:
            name = wording.title(wording.place(kb, location, sensor))
            st.progress(min(1.0, share), text=wording.plain(f"{name} · {wording.chance(share)}"))
    unlikely = [location for location, share in locations.items() if share < SHOWN_FROM]
    if unlikely:
        st.text(f"Under 1 %: {wording.places(kb, unlikely, sensor)}.")
