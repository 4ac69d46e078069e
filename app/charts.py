"""Owns charts as SVG text, drawn by hand so that nothing has to be loaded for them; no streamlit inside."""

import math
from collections.abc import Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape

from app import wording

INK, PAPER, GRID = "#10191f", "#fbfaf6", "#c9c4b4"
SURVIVAL_COLOUR = {"fine": "#17643a", "ten-seconds": "#a84300", "refused": "#a1140b"}
WIDTH, HEIGHT = 720, 420
LEFT, RIGHT, TOP, BOTTOM = 118, 30, 24, 78


class Mark(NamedTuple):
    """One point of the dial chart: temperature [degC], ohms, and whether the stand-in survives there."""

    temperature_c: float
    ohm: float
    survival: str


def dial_chart(marks: Sequence[Mark], unit: str) -> str:
    """Ohms to set against temperature (log scale) or level in `unit`, one mark for each wanted temperature, as SVG."""
    marks = sorted(marks)
    # Level senders run straight in ohms; everything else over decades.
    scale = _straight if unit == "percent" else _decades
    low, high, ticks = scale([mark.ohm for mark in marks])
    of = float if unit == "percent" else math.log10
    cold, hot = _span([mark.temperature_c for mark in marks])

    def across(temperature_c: float) -> float:
        return LEFT + (temperature_c - cold) / (hot - cold) * (WIDTH - LEFT - RIGHT)

    def down(ohm: float) -> float:
        return HEIGHT - BOTTOM - (of(ohm) - low) / (high - low) * (HEIGHT - TOP - BOTTOM)

    parts = []
    for ohm in ticks:
        y = down(ohm)
        parts.append(_line(LEFT, y, WIDTH - RIGHT, y, GRID, 1.5))
        parts.append(_text(LEFT - 10, y + 8, wording.ohms(ohm), "end"))
    path = " ".join(f"{across(mark.temperature_c):.1f},{down(mark.ohm):.1f}" for mark in marks)
    parts.append(f'<polyline points="{path}" fill="none" stroke="{INK}" stroke-width="3"/>')
    for mark in marks:
        x, y = across(mark.temperature_c), down(mark.ohm)
        parts.append(_shape(x, y, mark.survival))
        parts.append(_text(x, HEIGHT - BOTTOM + 30, wording.temperature(mark.temperature_c, unit).split()[0], "middle"))
    parts.append(_text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 10, f"{wording.MEASURED[unit]}, {wording.DEGREE[unit]}", "middle"))
    return svg(WIDTH, HEIGHT, parts, f"Ohms to set against {wording.MEASURED[unit]}")


def svg(width: int, height: int, parts: Sequence[str], title: str) -> str:
    """A whole SVG document around `parts`."""
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
            f'height="{height}" font-family="sans-serif" font-size="24" fill="{INK}"><title>{escape(title)}</title>'
            f'<rect width="{width}" height="{height}" fill="{PAPER}"/>{"".join(parts)}</svg>')


def _shape(x: float, y: float, survival: str) -> str:
    # Shape as well as colour: daylight washes colours out, and not every eye tells red from green.
    colour = SURVIVAL_COLOUR[survival]
    if survival == "fine":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9" fill="{colour}"/>'
    if survival == "ten-seconds":
        return f'<path d="M{x:.1f} {y - 11:.1f} l11 20 h-22 z" fill="{colour}"/>'
    return f'<path d="M{x - 9:.1f} {y - 9:.1f} l18 18 m0 -18 l-18 18" stroke="{colour}" stroke-width="6"/>'


def _decades(values: Sequence[float]) -> tuple[float, float, list[float]]:
    """Ends of the axis as logarithms, and its ticks [ohm]."""
    low = math.floor(math.log10(min(values)))
    high = max(low + 1, math.ceil(math.log10(max(values))))
    return low, high, [10.0**decade for decade in range(low, high + 1)]


def _straight(values: Sequence[float]) -> tuple[float, float, list[float]]:
    """Ends of the axis [ohm] from 0, and four or so round ticks."""
    rough = max(values) / 4.0
    decade = 10.0 ** math.floor(math.log10(rough))
    step = next(decade * times for times in (1.0, 2.0, 5.0, 10.0) if decade * times >= rough)
    count = math.ceil(max(values) / step)
    return 0.0, step * count, [step * number for number in range(count + 1)]


def _span(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    room = max(2.0, (high - low) * 0.06)
    return low - room, high + room


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    return (f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" '
            f'stroke-width="{width}"/>')


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
