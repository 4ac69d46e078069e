"""Owns reading: the data files become records, and each mistake one sentence saying file, row and what would be right."""

import csv
import math
import tomllib
from pathlib import Path

from engine.errors import KnowledgeError
from knowledge import complaint_records, line_records, records, relations
from knowledge.curve_forms import FORMS, form_points
from knowledge.records import Record
from knowledge.tables import Tables

DATA = Path(__file__).with_name("data")
MAX_TEXT = 2000
# What may stand in a name beside letters and digits, made letters.
IN_NAMES = str.maketrans("-_.", "xxx")
# Family -> file and record; a TOML file holds one array of tables named after the family's singular.
FAMILIES: dict[str, tuple[str, type[Record]]] = {
    "sources": ("sources.csv", records.Source), "locations": ("locations.csv", records.Location),
    "cautions": ("cautions.csv", records.Caution), "curves": ("curves.csv", records.CurveRow),
    "inputs": ("inputs.csv", records.InputRow), "lines": ("lines.csv", line_records.LineRow),
    "stand_ins": ("stand_ins.csv", records.StandInKind),
    "circuit_kinds": ("circuit_kinds.toml", records.CircuitKind), "actions": ("actions.toml", records.Action),
    "faults": ("faults.csv", records.Fault), "tests": ("tests.toml", records.Test),
    "test_wordings": ("test_wordings.toml", records.TestWording), "outcomes": ("outcomes.csv", records.Outcome),
    "test_bad": ("test_bad.csv", records.BadChance), "admissions": ("admissions.csv", records.Admission),
    "sensors": ("sensors.toml", records.SensorKind), "refusals": ("refusals.toml", complaint_records.Refusal),
    "sensor_curves": ("sensor_curves.csv", records.UsualCurve),
    "sensor_inputs": ("sensor_inputs.csv", records.UsualInput), "sensor_lines": ("sensor_lines.csv", line_records.UsualLine),
    "track_pairs": ("track_pairs.csv", line_records.TrackPair), "shares": ("shares.csv", records.Share),
    "rail_faults": ("rail_faults.csv", relations.RailFault), "sender_families": ("sender_families.csv", relations.SenderFamily),
    "live_items": ("live_items.csv", complaint_records.LiveItem), "codes": ("codes.csv", complaint_records.Code),
    "symptoms": ("symptoms.csv", complaint_records.Symptom), "implications": ("implications.csv", complaint_records.Implication),
    "acknowledged": ("acknowledged.csv", records.Acknowledged)}
COLUMNS = ("file", "column", "type", "unit", "required", "low", "high", "meaning")
# A reference such as "source id" names a family by its singular; complaints are two families under one name.
_REFERS = {"source": ("sources",), "location": ("locations",), "caution": ("cautions",), "curve": ("curves",),
           "input": ("inputs",), "line": ("lines",), "circuit_kind": ("circuit_kinds",), "action": ("actions",), "fault": ("faults",),
           "test": ("tests",), "sensor": ("sensors",), "complaint": ("codes", "symptoms")}


def load_tables(path: Path | str | None = None) -> Tables:
    """Every family under `path` (default: the data that comes with the program), checked and frozen.

    Raises KnowledgeError with one sentence for the first mistake: file, row,
    what stands there and what would be right.
    """
    folder = Path(path) if path is not None else DATA
    schema = read_schema(folder)
    tables = {family: _family(folder, file, record, schema) for family, (file, record) in FAMILIES.items()}
    tables["curves"] = tuple(curve.model_copy(update={"points": _points(folder, curve, schema)})
                             for curve in tables["curves"])
    _check_references(tables, schema)
    version = _text(folder / "VERSION").strip()
    if not version:
        raise KnowledgeError("VERSION is empty: it takes a date and a number such as 2026.11.25-1.")
    return Tables(version=version, **tables)


def read_schema(folder: Path) -> dict[str, dict[str, dict[str, str]]]:
    """columns.csv as {file: {column: its row}}."""
    schema: dict[str, dict[str, dict[str, str]]] = {}
    for line, row in _csv_rows(folder / "columns.csv"):
        if tuple(row) != COLUMNS:
            raise KnowledgeError(f"columns.csv line {line} has columns {', '.join(row)}: it takes {', '.join(COLUMNS)}.")
        schema.setdefault(row["file"], {})[row["column"]] = row
    return schema


def _family(folder: Path, file: str, record: type[Record], schema: dict) -> tuple[Record, ...]:
    if file not in schema:
        raise KnowledgeError(f"columns.csv has no row for {file}: every file's columns are listed there.")
    rows = _toml_rows(folder / file) if file.endswith(".toml") else _csv_rows(folder / file)
    found, seen = [], {}
    for place, row in rows:
        where = f"{file} {'number' if file.endswith('.toml') else 'line'} {place}"
        where += f" ({row['id']})" if row.get("id") else ""
        clean = _clean(row, schema[file], where)
        name = clean["id"] if schema[file].get("id", {}).get("type") == "id" else None
        if name is not None and name in seen:
            raise KnowledgeError(f"{where}: the id stands there a second time: each id stands once in its file.")
        seen[name] = True
        found.append(record(**clean))
    if not found and file != "acknowledged.csv":
        raise KnowledgeError(f"{file} has no rows: it takes at least one.")
    return tuple(found)


def _points(folder: Path, curve: records.CurveRow, schema: dict) -> tuple[records.CurvePoint, ...]:
    """A curve's points: from its own file, or from its formula."""
    where = f"curves.csv ({curve.id})"
    if curve.form:
        count, wanted = FORMS[curve.form]
        span = (curve.low_c, curve.high_c, curve.step_c)
        if len(curve.coefficients) != count or None in span or curve.low_c >= curve.high_c:
            raise KnowledgeError(f"{where}: the form {curve.form} takes {count} coefficients ({wanted}),"
                                 " low_c below high_c, and step_c.")
        if (folder / "curves" / f"{curve.id}.csv").exists():
            raise KnowledgeError(f"{where}: it has both a form and a file of points: keep one of them.")
        return tuple(records.CurvePoint(degc=degc, ohm=ohm) for degc, ohm in form_points(curve.form, curve.coefficients, *span))
    file = f"curves/{curve.id}.csv"
    columns = schema[f"curves/*.csv of {curve.quantity}"]
    points = [records.CurvePoint(**_clean(row, columns, f"{file} line {line}")) for line, row in _csv_rows(folder / file)]
    if len(points) < 2:
        raise KnowledgeError(f"{file} has {len(points)} points: a curve takes two or more.")
    return tuple(points)


def _clean(row: dict, columns: dict, where: str) -> dict:
    """The row's cells as values of their column's type; blank cells of optional columns are left out."""
    for column in row:
        if column not in columns:
            raise KnowledgeError(f"{where}: column {column!r} is not listed in columns.csv: list it there or take it out.")
    clean = {}
    for column, rule in columns.items():
        cell = row.get(column)
        if cell is None or cell == "" or cell == ():
            if rule["required"] == "yes" and cell != ():
                raise KnowledgeError(f"{where}: {column} is missing: it takes {_wanted(rule)}.")
            continue
        value = _value(cell, rule)
        if value is None:
            raise KnowledgeError(f"{where}: {column} is {str(cell)[:60]!r}: it takes {_wanted(rule)}.")
        clean[column] = value
    return clean


def _value(cell: object, rule: dict) -> object:
    """`cell` as the rule's type, or None where it does not fit."""
    kind = rule["type"]
    if kind == "number":
        return _number(cell, rule)
    if kind == "yes/no":
        return {"yes": True, "no": False, True: True, False: False}.get(cell)
    if kind == "numbers":
        numbers = tuple(_number(item, rule) for item in cell.split(";")) if _is_text(cell) else (None,)
        return None if None in numbers else numbers
    if kind == "texts" or kind.endswith(" ids"):
        items = cell.split(";") if isinstance(cell, str) else cell
        if not isinstance(items, (list, tuple)) or not all(_is_text(item) for item in items):
            return None
        return tuple(item.strip() for item in items)
    if not _is_text(cell):
        return None
    if kind.startswith("one of "):
        return cell if cell in kind.removeprefix("one of ").split("|") else None
    if kind == "id" or kind.endswith(" id"):
        return cell if cell.translate(IN_NAMES).isalnum() else None
    return cell


def _number(cell: object, rule: dict) -> float | None:
    try:
        value = float(cell)
    except (TypeError, ValueError):
        return None
    low, high = (float(rule[end]) if rule[end] else None for end in ("low", "high"))
    outside = (low is not None and value < low) or (high is not None and value > high)
    return None if outside or isinstance(cell, bool) or not math.isfinite(value) else value


def _is_text(cell: object) -> bool:
    return isinstance(cell, str) and bool(cell.strip()) and len(cell) <= MAX_TEXT


def _wanted(rule: dict) -> str:
    kind = rule["type"]
    if kind == "number":
        span = f" from {rule['low']} to {rule['high']}" if rule["low"] and rule["high"] else ""
        return f"a number{span}{' ' + rule['unit'] if rule['unit'] else ''}"
    if kind.startswith("one of "):
        return "one of " + ", ".join(kind.removeprefix("one of ").split("|"))
    words = {"numbers": "numbers with semicolons between", "id": "a name of letters, digits and hyphens", "yes/no": "yes or no", "texts": "a list of texts",
             "text": f"text of up to {MAX_TEXT} characters"}
    return words.get(kind) or f"{kind.rsplit(' ', 1)[0]} {'names' if kind.endswith('ids') else 'name'} listed in its file"


def _check_references(tables: dict[str, tuple[Record, ...]], schema: dict) -> None:
    """Every reference names a row that is there."""
    ids = {family: {row.id for row in rows} for family, rows in tables.items() if rows and hasattr(rows[0], "id")}
    for family, (file, _) in FAMILIES.items():
        for column, rule in schema[file].items():
            kind = rule["type"].rsplit(" ", 1)
            if len(kind) != 2 or kind[1] not in ("id", "ids"):
                continue
            targets = _REFERS[kind[0]]
            known = set().union(*(ids[target] for target in targets))
            for row in tables[family]:
                named = getattr(row, column)
                for name in named if isinstance(named, tuple) else (named,):
                    if name is not None and name not in known:
                        files = " or ".join(FAMILIES[target][0] for target in targets)
                        own = getattr(row, "id", None) or next(iter(row.model_dump().values()))
                        raise KnowledgeError(f"{file} row {own}: {column} is {name!r}: it takes an id from {files}.")


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise KnowledgeError(f"{path.name} is missing from {path.parent}: put it back or load another folder.") from None
    except UnicodeDecodeError:
        raise KnowledgeError(f"{path.name} is not UTF-8 text: save it as UTF-8.") from None


def _csv_rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    reader = csv.DictReader(_text(path).splitlines())
    rows = []
    for row in reader:
        if None in row or None in row.values():
            raise KnowledgeError(f"{path.name} line {reader.line_num} has {'more' if None in row else 'fewer'} cells"
                                 " than its header: give each column one cell.")
        rows.append((reader.line_num, row))
    return rows


def _toml_rows(path: Path) -> list[tuple[int, dict]]:
    try:
        content = tomllib.loads(_text(path))
    except tomllib.TOMLDecodeError as error:
        raise KnowledgeError(f"{path.name} cannot be read as TOML: {error}.") from None
    name = path.stem.removesuffix("s")
    if set(content) != {name} or not isinstance(content[name], list):
        raise KnowledgeError(f"{path.name} holds {', '.join(content) or 'nothing'}: it takes [[{name}]] tables alone.")
    for place, row in enumerate(content[name], start=1):
        for column, cell in row.items():
            row[column] = tuple(cell) if isinstance(cell, list) else cell
    return list(enumerate(content[name], start=1))
