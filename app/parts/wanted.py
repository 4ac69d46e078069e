"""Owns the field for the temperatures or levels wanted on the dial sheet, and the curve it is worked with."""

import streamlit as st

from app import wording


def show(kind: object, job: object, unit: str) -> tuple[str, object]:
    """The temperatures as typed (in `unit`) and the engine Curve chosen."""
    curves = [curve for curve, _weight in sorted(job.curves, key=lambda pair: (-pair[1], pair[0].id))]
    usual = " ".join(wording.temperature(degrees, unit).split()[0] for degrees in wording.ladder(kind.low_c, kind.high_c, unit))
    what = "places of the needle" if job.circuit.pointer else f"{wording.MEASURED[unit]}s"
    text = st.text_input(f"Wanted {what} ({wording.DEGREE[unit]})", value=usual, max_chars=400,
                         key=f"wanted-{kind.id}-{unit}", persist_state="session")
    if len(curves) == 1:
        return text, curves[0]
    chosen = st.selectbox("Worked with the curve", curves, format_func=lambda curve: curve.label, key="wanted-curve")
    return text, chosen
