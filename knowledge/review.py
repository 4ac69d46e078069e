"""Owns the table of which sensor kinds suit a stand-in: engine figures for each kind, refusals with their reason."""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from engine.dial_sheet import dial_sheet
from engine.divide_sheet import divide_sheet
from engine.review import review
from knowledge import build
from knowledge.records import SensorKind

if TYPE_CHECKING:
    from knowledge.knowledge_base import Knowledge

# Values tried from a kind's lowest to its highest: enough to see where the stand-in reaches.
VALUES = 35


@dataclass(frozen=True)
class ReviewRow:
    """One sensor kind: what substitution alone does for it with the stand-in in hand.

    `detected` and `placed` are shares (0..1) of the chance of a fault; `low_c`
    and `high_c` [degC, percent for a level] the span the stand-in can be set over, `near_c` how
    near a hand typically brings it (+-); `hazards` in a word or two each; None where nothing can be set or the
    kind is refused, with `reason` and `instead`.
    """

    sensor: str
    label: str
    refused: bool
    detected: float | None = None
    placed: float | None = None
    low_c: float | None = None
    high_c: float | None = None
    near_c: float | None = None
    hazards: tuple[str, ...] = ()
    reason: str = ""
    instead: str = ""


def review_all(kb: "Knowledge", stand_in: Mapping) -> tuple[ReviewRow, ...]:
    """A row for each sensor kind, best placed first, refused ones last; circuits taken at their usual input and curve."""
    rows = [_row(kb, sensor, stand_in) for sensor in kb.tables.sensors]
    return tuple(sorted(rows, key=lambda row: (row.refused, -round(row.placed or 0.0, 6), row.sensor)))


def _row(kb: "Knowledge", sensor: SensorKind, stand_in: Mapping) -> ReviewRow:
    hazards = tuple(caution.id.replace("-", " ") for caution in kb.cautions(sensor.id) if caution.severity == "danger")
    refusal = kb.refusal(sensor.id)
    if refusal is not None:
        return ReviewRow(sensor.id, sensor.label, True, hazards=hazards, reason=refusal.reason, instead=refusal.instead)
    if build.circuit_kind(kb.graph, sensor.id).three_wire:
        return _three_wire_row(kb, sensor, stand_in, hazards)
    circuit = build.input_fields(kb.input(sensor.assumed_input)) if sensor.assumed_input else {}
    job = kb.job(sensor.id, circuit={**circuit, "curve": kb.curves(sensor.id)[0].id}, stand_in=stand_in)
    shares = review(job.setup)
    sheet = dial_sheet(job.circuit, job.curves[0][0], job.stand_in, job.meter,
                       np.linspace(sensor.low_c, sensor.high_c, VALUES).round().tolist())
    settable = [row for row in sheet if row.reach_c is not None and row.survival != "refused"]
    reach = {} if not settable else {"low_c": min(row.temperature_c for row in settable),
                                     "high_c": max(row.temperature_c for row in settable),
                                     "near_c": median(row.reach_c for row in settable)}
    return ReviewRow(sensor.id, sensor.label, False, detected=shares.detected, placed=shares.placed, hazards=hazards,
                     **reach)


def _three_wire_row(kb: "Knowledge", sensor: SensorKind, stand_in: Mapping, hazards: tuple[str, ...]) -> ReviewRow:
    """As _row, for a kind that is divided: its usual line, on an input nobody knows."""
    line = kb.lines(sensor.id)[0]
    job = kb.job(sensor.id, circuit={"line": line.id}, stand_in=stand_in)
    shares = review(job.setup)
    values = [value for value in np.linspace(sensor.low_c, sensor.high_c, VALUES).tolist() if 0.0 <= line.ratio(value) <= 1.0]
    sheet = divide_sheet(job.circuit, line, job.stand_in, job.meter, values, job.setup.quantity)
    settable = [row for row in sheet if row.reach is not None and row.survival != "refused"]
    reach = {} if not settable else {"low_c": min(row.value for row in settable), "high_c": max(row.value for row in settable),
                                     "near_c": median(row.reach for row in settable)}
    return ReviewRow(sensor.id, sensor.label, False, detected=shares.detected, placed=shares.placed, hazards=hazards, **reach)
