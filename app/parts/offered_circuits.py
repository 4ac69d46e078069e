"""Owns the circuits that can be taken whole: those the shop kept, and the published inputs of this sensor kind."""

import streamlit as st

from app import cached
from app.parts import keep

_NONE = ""


def show(kb: object, case: dict) -> None:
    """A box to choose from and a button that takes the chosen one; nothing where nothing is kept or published."""
    kept = cached.shop_book().circuits(case["sensor"])
    _offer("Kept in the shop book", "kept", {name: name for name in kept}, lambda name: kept[name], case)
    published = {row.id: row.label for row in kb.inputs(case["sensor"])}
    _offer("Published inputs", "published", published, lambda id: {**_own_curve(case), **kb.input_fields(id)}, case)


def _offer(label: str, key: str, names: dict[str, str], circuit_of: object, case: dict) -> None:
    if not names:
        return
    chosen = st.selectbox(label, [_NONE, *names], key=f"offer-{key}", format_func=lambda one: names.get(one, "choose one"))
    if st.button("Use this one", key=f"offer-{key}-use", width="stretch", disabled=chosen == _NONE):
        circuit = circuit_of(chosen)
        keep.show({**case, "circuit": circuit}, {"event": "circuit", "circuit": circuit}, "Saved. That circuit is used.")


def _own_curve(case: dict) -> dict:
    # An input says nothing of the sensor: a curve typed before stays.
    before = case.get("circuit") or {}
    return {"curve": before["curve"]} if "curve" in before else {}
