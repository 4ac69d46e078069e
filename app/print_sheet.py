"""Owns the dial sheet on paper and as CSV: a page that needs nothing else, every word escaped."""

import csv
import io
from collections.abc import Sequence
from html import escape

from app import wording

_STYLE = ("body{font:14pt sans-serif;margin:1.5cm;color:#000}h1{font-size:20pt}table{border-collapse:collapse;width:100%;margin:12pt 0}"
          "td,th{border:1px solid #000;padding:5pt;text-align:left}svg{max-width:100%;height:auto}"
          "@media print{thead{display:table-header-group}tr{break-inside:avoid}}")


def page(title: str, lines: Sequence[str], tables: Sequence[tuple[Sequence[str], Sequence[Sequence[str]]]],
         drawing: str) -> str:
    """A whole HTML page: `title`, `lines` of text, `tables` (head, rows), and `drawing` (our own SVG text)."""
    said = "".join(f"<p>{escape(line)}</p>" for line in lines)
    grids = "".join(_table(*table) for table in tables)
    return (f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
            f'<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; style-src \'unsafe-inline\'">'
            f"<style>{_STYLE}</style></head><body><h1>{escape(title)}</h1>{said}"
            f"{grids}{drawing}</body></html>")


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    heads = "".join(f"<th>{escape(cell)}</th>" for cell in head)
    body = "".join(f"<tr>{''.join(f'<td>{escape(wording.together(cell))}</td>' for cell in row)}</tr>" for row in rows)
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"


def comma_separated(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """The rows as CSV text with a heading line."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()
