"""Owns the list of suspected sensor kinds: the likeliest in full, hazards always, the rest folded away."""

import streamlit as st

from app.parts import candidate

# More than this many in full and the way to start scrolls out of sight on a phone.
MOST_IN_FULL = 3


def show(kb: object, complaint: tuple[str, ...]) -> bool:
    """Draw every sensor kind the chosen entries point to; whether there is any."""
    found = kb.candidates(*complaint)
    start = next((one.sensor for one in found if not one.refused), None)
    in_full = [one for number, one in enumerate(found) if number < MOST_IN_FULL or one.sensor == start or _hazard(kb, one)]
    folded = [one for one in found if one not in in_full]

    def draw(ones: list) -> None:
        for one in ones:
            candidate.show(kb, one, complaint, first=one.sensor == start, alone=len(found) == 1)
    draw(in_full)
    if folded:
        with st.expander(f"Less likely: {len(folded)} more", icon=":material/unfold_more:"):
            draw(folded)
    return bool(found)


def _hazard(kb: object, one: object) -> bool:
    refusal = kb.refusal(one.sensor)
    return refusal is not None and refusal.kind == "hazard"
