"""Owns what a three-wire circuit and its line are taken to be, and where that comes from."""

import streamlit as st

from app import job_state, wording
from app.parts import table

MOST_NAMED = 4


def show(kb: object, job: object, case: dict) -> None:
    """Supply, input and lines of the open three-wire `job`."""
    circuit, given, wire = job.circuit, case.get("circuit") or {}, job.setup.three_wire
    unit = job_state.unit_of(job)
    pull = {"up": "up, to its supply", "down": "down, to ground"}.get(circuit.pull, "not known: the open plug tells")
    rows = [("Supply", _said(wording.volts(circuit.reference_v) if circuit.reference_v else "about 5 V", "reference_v", given)),
            ("The open signal goes", _said(pull, "pull", given)),
            ("Load of the signal input", _said(wording.ohms(circuit.source_ohm), "input_ohm", given))]
    limits = [f"{word} {wording.volts(limit)}" for word, limit in (("below", circuit.low_limit_v), ("above", circuit.high_limit_v))
              if limit is not None]
    if limits:
        rows.append(("A code sets", " and ".join(limits)))
    if circuit.default_c is not None:
        rows.append(("After a code it shows", wording.default_shown(circuit.default_c, unit)))
    lines = [line for line, _share in wire.lines]
    name = "Line" if len(lines) == 1 else "One of these lines" + (", or another" if wire.family_weight else "")
    rows.append((name, "; ".join(line.label for line in lines[:MOST_NAMED]) + (", and more" if len(lines) > MOST_NAMED else "")))
    table.show(("", "Taken to be"), rows)
    if len(lines) > 1 or circuit.pull is None:
        st.text("What is not known is learned from the readings.")
    published = {row.id: row for row in kb.tables.lines}
    for pair in kb.track_pairs(job.sensor):
        st.text(f"Two tracks: {pair.label}. When they disagree: {pair.reaction}")
    with st.expander("Where this comes from", icon=":material/menu_book:"):
        for row in [published[line.id] for line in lines if line.id in published]:
            st.text(f"Line: {row.label}")
            if row.warning:
                st.text(f"Beware: {row.warning}")
            st.caption(wording.plain(kb.source(row.source).citation))


def _said(text: str, field: str, given: dict) -> str:
    return f"{text} (typed)" if field in given else text
