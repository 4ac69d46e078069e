"""Owns what a stand-in on a battery-fed gauge needs said: that this one does not survive, and what a kit makes."""

import streamlit as st

from app import wording
from engine.kit import test_points
from engine.survival import on_gauge

LEAST_SET_OHM = 10.0


def show(job: object, kind: object, ohm: float | None) -> None:
    """Where the test `kind` (engine TestKind) has a stand-in on: a warning if the one in hand would burn at `ohm`, or wherever
    it may be set, and the test points of a kit."""
    stand_in = job.stand_in
    if not job.circuit.pointer or kind.element != "stand-in" or (stand_in.kind != "fixed" and stand_in.end_to_end_ohm is None):
        return
    if stand_in.kind == "fixed":
        points = test_points(job.curves[0][0], stand_in.ohms) if len(job.curves) == 1 else ()
        if points:
            st.text("Test points from your parts: " + wording.together("; ".join(
                f"{wording.ohms(point.ohm)} about {wording.temperature(point.percent, 'percent')}" for point in points)) + ".")
        return
    alive = on_gauge(stand_in, job.circuit, ohm or LEAST_SET_OHM)
    if alive.state != "fine":
        st.warning(wording.plain(f"At {wording.ohms(ohm or LEAST_SET_OHM)} this stand-in would carry {wording.amps(alive.current_a)}"
                                 f" and {wording.watts(alive.watts)}. {alive.remedy}"))
