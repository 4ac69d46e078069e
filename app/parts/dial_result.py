"""Owns the dial sheet itself: table, what would serve better, chart, paper and CSV."""

import streamlit as st

from app import charts, dial_table, print_sheet, wording
from app.parts import table
from engine.dial_sheet import dial_sheet


def show(kb: object, job: object, curve: object, temperatures_c: tuple[float, ...], unit: str) -> None:
    """Work the sheet out for `temperatures_c` [degC, or percent] and show it in `unit`. Raises OhmwrightError."""
    sheet = dial_sheet(job.circuit, curve, job.stand_in, job.meter, temperatures_c)
    rows, fine = dial_table.rows(sheet, unit), dial_table.fine_tables(sheet, unit)
    head = dial_table.GAUGE_HEAD if job.circuit.pointer else dial_table.HEAD
    table.show(head, rows)
    notes = dial_table.notes(sheet, unit, wording.default_shown(job.circuit.default_c, unit))
    for note in notes:
        st.info(wording.plain(note), icon=":material/info:")
    with st.expander("How near, how well known, how much current", icon=":material/straighten:"):
        for one in fine:
            table.show(*one)
    remedies = dial_table.remedies(sheet, unit)
    if remedies:
        with st.expander("What would serve better", icon=":material/build:"):
            for remedy in remedies:
                st.text(remedy)
    drawing = charts.dial_chart(dial_table.marks(sheet), unit)
    st.image(drawing, width="stretch", alt=f"Ohms to set against {wording.MEASURED[unit]}")
    st.text("● fine   ▲ under ten seconds   ✕ not with this stand-in")
    title = f"Dial sheet: {kb.sensor(job.sensor).label}"
    tables = ((head, rows), *fine)
    lines = (f"Curve: {curve.label}", f"Knowledge {kb.version}",
             "Set and measure off the plug; plan with the ohms measured.", *notes)
    with st.container(horizontal=True):
        st.download_button("For paper", print_sheet.page(title, lines, tables, drawing),
                           "dial-sheet.html", "text/html", icon=":material/print:", width="stretch", on_click="ignore")
        st.download_button("As CSV", print_sheet.comma_separated(dial_table.CSV_HEAD, dial_table.csv_rows(sheet, unit)),
                           "dial-sheet.csv", "text/csv", icon=":material/table:", width="stretch", on_click="ignore")
