"""Owns the dial sheet of a three-wire sensor: values wanted, the table, what would serve better, paper and CSV."""

import streamlit as st

from app import divide_table, print_sheet, typed, wording
from app.parts import table
from engine.divide_sheet import divide_sheet

STEPS = 5


def wanted(kind: object, job: object, unit: str) -> tuple[str, object]:
    """The values as typed (in `unit`) and the engine Line chosen."""
    lines = [line for line, _share in sorted(job.setup.three_wire.lines, key=lambda pair: (-pair[1], pair[0].id))]
    line = lines[0] if len(lines) == 1 else st.selectbox("Worked with the line", lines, format_func=lambda one: one.label,
                                                         key="wanted-line")
    low, high = (max(kind.low_c, min(line.value(0.0), line.value(1.0))), min(kind.high_c, max(line.value(0.0), line.value(1.0))))
    ladder = [round(float(low + (high - low) * step / STEPS)) for step in range(STEPS + 1)]
    usual = " ".join(str(value) for value in ladder if 0.0 <= float(line.ratio(value)) <= 1.0)
    what = "positions" if unit == "percent" else "pressures"
    text = st.text_input(f"Wanted {what} ({wording.DEGREE[unit]})", value=usual, max_chars=400,
                         key=f"wanted-{kind.id}-{line.id}", persist_state="session")
    return text, line


def show(kb: object, job: object, line: object, text: str, unit: str) -> None:
    """Work the sheet out for the values in `text` and show it in `unit`. Raises OhmwrightError."""
    sheet = divide_sheet(job.circuit, line, job.stand_in, job.meter, typed.temperatures(text, unit), job.setup.quantity)
    rows, fine = divide_table.rows(sheet, unit), divide_table.fine_rows(sheet, unit)
    st.text("Set: share of the whole track, measured from the leg for the return pin to the wiper. About 1 kΩ stands in the wiper's lead.")
    table.show(divide_table.HEAD, rows)
    notes = divide_table.notes(sheet, unit)
    for note in notes:
        st.info(wording.plain(note), icon=":material/info:")
    with st.expander("How near, how well known", icon=":material/straighten:"):
        table.show(divide_table.FINE_HEAD, fine)
    remedies = divide_table.remedies(sheet, unit)
    if remedies:
        with st.expander("What would serve better", icon=":material/build:"):
            for remedy in dict.fromkeys(remedies):
                st.text(remedy)
    title = f"Dial sheet: {kb.sensor(job.sensor).label}"
    lines = (f"Line: {line.label}", f"Knowledge {kb.version}", "Set and measure off the plug; judge shares of the supply, not volts.", *notes)
    tables = ((divide_table.HEAD, rows), (divide_table.FINE_HEAD, fine))
    with st.container(horizontal=True):
        st.download_button("For paper", print_sheet.page(title, lines, tables, ""), "dial-sheet.html", "text/html",
                           icon=":material/print:", width="stretch", on_click="ignore")
        st.download_button("As CSV", print_sheet.comma_separated(divide_table.CSV_HEAD, divide_table.csv_rows(sheet, unit)),
                           "dial-sheet.csv", "text/csv", icon=":material/table:", width="stretch", on_click="ignore")
