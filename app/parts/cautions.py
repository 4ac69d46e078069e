"""Owns cautions: shown where the hand acts, the most dangerous first."""

import streamlit as st

from app import wording

_FORM = {"danger": (st.error, ":material/dangerous:"), "warning": (st.warning, ":material/warning:"),
         "note": (st.info, ":material/info:")}
_ORDER = ("danger", "warning", "note")


def show(cautions: tuple) -> None:
    """Show each Caution of the knowledge by its severity."""
    for caution in sorted(cautions, key=lambda one: (_ORDER.index(one.severity), one.id)):
        form, icon = _FORM[caution.severity]
        form(wording.plain(caution.text), icon=icon)
