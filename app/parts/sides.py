"""Owns which side differs on a three-wire circuit, sensor or module, once two dividers and a known value were read."""

import streamlit as st

from app import sentences
from engine.module_line import from_readings


def show(kb: object, job: object) -> None:
    """One sentence; nothing where the line is not told or the readings do not reach so far."""
    wire = job.setup.three_wire
    if wire is None or len(wire.lines) != 1 or wire.family_weight:
        return
    expected, listed = wire.lines[0][0], kb.lines(job.sensor)
    found = from_readings(job.readings, expected, listed, job.stand_in.end_to_end_ohm)
    if found is not None:
        st.info(sentences.sides(found, expected.label, {line.id: line.label for line in (*listed, expected)}), icon=":material/compare_arrows:")
