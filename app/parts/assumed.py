"""Owns what the circuit and its curve are taken to be, and where that comes from."""

import streamlit as st

from app import job_state, wording
from app.parts import curve_warning, table

MOST_WARNED = 2


def show(kb: object, sensor: str, job: object, case: dict) -> None:
    """Input and curves of the open `job` on the sensor kind `sensor`."""
    circuit, given = job.circuit, case.get("circuit") or {}
    rows = [(name, f"{said} (typed)" if field in given else said)
            for name, field, said in (("The gauge's coil" if circuit.pointer else "Input resistor", "pull_up_ohm", wording.ohms(circuit.source_ohm)),
                                      ("Volts unplugged", "open_v", wording.volts(circuit.open_v)),
                                      ("Volts with pins bridged", "short_v", wording.volts(circuit.short_v)))]
    own_curve = isinstance(given.get("curve"), dict)
    name = "Curve" if len(job.curves) == 1 else "One of these curves" + (", or another" if job.setup.family_weight or len(job.setup.curves) > len(job.curves) else "")
    curves = "; ".join(curve.label for curve, _share in job.curves)
    table.show(("", "Taken to be"), [*rows, *_behaviour(circuit, job_state.unit_of(job)), (name, curves)])
    if None in (circuit.source_ohm, circuit.open_v) or len(job.curves) > 1:
        st.text("What is not known is learned from the readings.")
    if len(job.curves) <= MOST_WARNED:
        curve_warning.show(kb, [curve for curve, _share in job.curves])
    with st.expander("Where this comes from", icon=":material/menu_book:"):
        for row in kb.inputs(sensor):
            _source(kb, f"Input: {row.label}", row.source)
        for curve in () if own_curve else [kb.curve_row(curve.id) for curve, _share in job.curves]:
            _source(kb, f"Curve: {curve.label}", curve.source)
            if curve.warning and len(job.curves) > MOST_WARNED:
                st.text(f"Beware: {curve.warning}")


def _behaviour(circuit: object, unit: str) -> list[tuple[str, str]]:
    """Rows on what this input does beside pulling up; only what is known."""
    rows = []
    if circuit.second_source_ohm is not None:
        at = "" if circuit.switch_at_c is None else (f", switched at {wording.temperature(circuit.switch_at_c, unit)}, within "
                                                     f"{wording.degrees(circuit.switch_band_c / 2, unit)}")
        rows.append(("Second input resistor", f"{wording.ohms(circuit.second_source_ohm)}{at}"))
    if circuit.second_instrument_ohm is not None:
        rows.append(("Second instrument", f"{wording.ohms(circuit.second_instrument_ohm)} to {wording.volts(circuit.second_instrument_v)}"))
    if circuit.strobed:
        rows.append(("Fed in pulses", "a meter shows an average, a scope the volts"))
    limits = [f"{word} {wording.volts(limit)}" for word, limit in (("below", circuit.low_limit_v), ("above", circuit.high_limit_v))
              if limit is not None]
    if limits:
        rows.append(("A code sets", " and ".join(limits)))
    if circuit.default_c is not None:
        held = ", until codes are cleared and the key was off" if circuit.latched else ""
        rows.append(("After a code it shows", f"{wording.default_shown(circuit.default_c, unit)}{held}"))
    if circuit.settle_s is not None:
        rows.append(("Settles in", f"{circuit.settle_s:g} s"))
    return rows


def _source(kb: object, said: str, source: str) -> None:
    st.text(said)
    st.caption(wording.plain(kb.source(source).citation))
