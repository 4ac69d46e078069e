"""Owns the stop sign for a supply that another circuit feeds back into."""

import streamlit as st

from app import sentences
from engine.divider import STOP_ABOVE_V


def show(job: object) -> None:
    """A stop sign where the last volts read on the supply pin of a 5 V plug are too many; nothing otherwise."""
    volts = [max(reading.supply_to_return_v or 0.0, reading.supply_to_battery_v or 0.0) for reading in job.readings
             if reading.supply_to_return_v is not None or reading.supply_to_battery_v is not None]
    if volts and volts[-1] > STOP_ABOVE_V and (job.circuit.reference_v or 5.0) <= STOP_ABOVE_V:
        st.error(sentences.STOP_SUPPLY, icon=":material/front_hand:")
