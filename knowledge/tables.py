"""Owns the tables: every family of the knowledge as read, in one frozen record."""

from knowledge import complaint_records, line_records, records, relations
from knowledge.records import Record


class Tables(Record):
    """Every family of the knowledge as read, in file order, and the version."""

    version: str
    sources: tuple[records.Source, ...]
    locations: tuple[records.Location, ...]
    cautions: tuple[records.Caution, ...]
    curves: tuple[records.CurveRow, ...]
    inputs: tuple[records.InputRow, ...]
    lines: tuple[line_records.LineRow, ...]
    stand_ins: tuple[records.StandInKind, ...]
    circuit_kinds: tuple[records.CircuitKind, ...]
    actions: tuple[records.Action, ...]
    faults: tuple[records.Fault, ...]
    tests: tuple[records.Test, ...]
    test_wordings: tuple[records.TestWording, ...]
    outcomes: tuple[records.Outcome, ...]
    test_bad: tuple[records.BadChance, ...]
    admissions: tuple[records.Admission, ...]
    sensors: tuple[records.SensorKind, ...]
    refusals: tuple[complaint_records.Refusal, ...]
    sensor_curves: tuple[records.UsualCurve, ...]
    sensor_inputs: tuple[records.UsualInput, ...]
    sensor_lines: tuple[line_records.UsualLine, ...]
    track_pairs: tuple[line_records.TrackPair, ...]
    shares: tuple[records.Share, ...]
    rail_faults: tuple[relations.RailFault, ...]
    sender_families: tuple[relations.SenderFamily, ...]
    live_items: tuple[complaint_records.LiveItem, ...]
    codes: tuple[complaint_records.Code, ...]
    symptoms: tuple[complaint_records.Symptom, ...]
    implications: tuple[complaint_records.Implication, ...]
    acknowledged: tuple[records.Acknowledged, ...]
