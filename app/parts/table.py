"""Owns plain tables: words in cells, nothing in them read as markup, no table library loaded."""

from collections.abc import Sequence

import streamlit as st

from app import wording


def show(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table of `rows` under `head`."""
    lines = [head, ["---"] * len(head), *rows]
    written = [line if number == 1 else [wording.together(wording.plain(cell)) for cell in line]
               for number, line in enumerate(lines)]
    st.markdown("\n".join(f"| {' | '.join(line)} |" for line in written))
