"""Owns what the circuit and its curve are taken to be, and where that comes from."""

import streamlit as st

from app import wording
from app.parts import table


def show(kb: object, sensor: str, job: object, case: dict) -> None:
    """Input and curves of the open `job` on the sensor kind `sensor`."""
    circuit, given = job.circuit, case.get("circuit") or {}
    rows = [(name, f"{said} (typed)" if field in given else said)
            for name, field, said in (("Input resistor", "pull_up_ohm", wording.ohms(circuit.source_ohm)),
                                      ("Volts unplugged", "open_v", wording.volts(circuit.open_v)),
                                      ("Volts with pins bridged", "short_v", wording.volts(circuit.short_v)))]
    own_curve = isinstance(given.get("curve"), dict)
    name = "Curve" if len(job.curves) == 1 else "One of these curves, or another"
    curves = "; ".join(curve.label for curve, _share in job.curves)
    table.show(("", "Taken to be"), [*rows, (name, curves)])
    if None in (circuit.source_ohm, circuit.open_v) or len(job.curves) > 1:
        st.text("What is not known is learned from the readings.")
    with st.expander("Where this comes from", icon=":material/menu_book:"):
        for row in kb.inputs(sensor):
            _source(kb, f"Input: {row.label}", row.source)
        for curve in () if own_curve else [kb.curve_row(curve.id) for curve, _share in job.curves]:
            _source(kb, f"Curve: {curve.label}", curve.source)


def _source(kb: object, said: str, source: str) -> None:
    st.text(said)
    st.caption(wording.plain(kb.source(source).citation))
