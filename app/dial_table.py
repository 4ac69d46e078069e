"""Owns the dial sheet as rows of text: what screen, paper and CSV show of the engine's DialRow."""

from collections.abc import Sequence

from app import wording
from app.charts import Mark
from engine.units import from_degc

HEAD = ("At", "Set", "Live data", "Plug")
GAUGE_HEAD = ("At", "Set", "Needle", "Volts at its wire")
NEAR_HEAD, CARRIES_HEAD = ("At", "Hand / meter within", "Wrong outer leg reads"), ("At", "Carries")
SURVIVAL = {"fine": "fine", "ten-seconds": "under ten seconds", "refused": "do not connect"}
CSV_HEAD = ("temperature", "unit", "ohm", "parts_ohm", "reach_ohm", "reach_degrees", "known_ohm", "known_degrees", "plug_v",
            "plug_v_low", "plug_v_high", "shows", "shows_low", "shows_high", "current_a", "watts", "stand_in", "remedy",
            "other_plug_v", "code_sets", "wrong_leg_shows", "note")
Table = tuple[Sequence[str], Sequence[tuple[str, ...]]]


def rows(sheet: Sequence[object], unit: str) -> list[tuple[str, ...]]:
    """One row of words for each DialRow, under HEAD."""
    return [(wording.temperature(row.temperature_c, unit), _marked(row), _live(row, unit), _plug(row)) for row in sheet]


def fine_tables(sheet: Sequence[object], unit: str) -> tuple[Table, Table]:
    """How near each value can be set and known, and what the part carries: two tables, for one is too wide for a phone.

    The wrong outer leg is left out where the stand-in has none.
    """
    at = [wording.temperature(row.temperature_c, unit) for row in sheet]
    near = [wording.within(row.reach_c, row.known_c, unit) for row in sheet]
    legs = ["–" if row.other_leg_c is None else wording.temperature(row.other_leg_c, unit) for row in sheet]
    carried = [f"{wording.amps(row.current_a)}, {wording.watts(row.watts)}" for row in sheet]
    one_leg = all(row.other_leg_c is None for row in sheet)
    return ((NEAR_HEAD[:-1] if one_leg else NEAR_HEAD, list(zip(at, near, strict=True) if one_leg else zip(at, near, legs, strict=True))),
            (CARRIES_HEAD, list(zip(at, carried, strict=True))))


def survival(row: object) -> str:
    """Whether this stand-in can be set there and lives through it."""
    return wording.CANNOT_BE_SET if row.reach_ohm is None else SURVIVAL[row.survival]


def setting(row: object) -> str:
    """What to set: ohms, or the fixed parts to take."""
    said = wording.parts(row.ohm, row.parts)
    return f"{wording.ohms(row.ohm)} ({said})" if said else wording.ohms(row.ohm)


def remedies(sheet: Sequence[object], unit: str) -> list[str]:
    """What would serve better, one sentence for each row that has one."""
    return [f"{wording.temperature(row.temperature_c, unit)}: {row.remedy}" for row in sheet if row.remedy]


def notes(sheet: Sequence[object], unit: str, default: str = "") -> list[str]:
    """What volts and live data need said, each sentence once with where it holds; `default` is what a code makes it show."""
    said: dict[str, list[str]] = {}
    for row in sheet:
        at = wording.temperature(row.temperature_c, unit)
        if row.outside:
            shown = f"shows {default} instead" if default else "may show a number of its own instead"
            said.setdefault(f"A code sets there, and the module {shown}.", []).append(at)
        if row.note:
            said.setdefault(row.note, []).append(at)
    return [f"At {', '.join(places)}: {sentence}" for sentence, places in said.items()]


def marks(sheet: Sequence[object]) -> list[Mark]:
    """The rows as marks of the dial chart."""
    return [Mark(row.temperature_c, row.ohm, row.survival) for row in sheet]


def csv_rows(sheet: Sequence[object], unit: str) -> list[tuple[object, ...]]:
    """Numbers at 6 figures under CSV_HEAD, temperatures in `unit`."""
    step = wording.degree_step(unit)
    table = []
    for row in sheet:
        numbers = (row.reach_ohm, _times(row.reach_c, step), row.known_ohm, _times(row.known_c, step),
                   row.plug_v, *row.plug_v_band, *(from_degc(value, unit) for value in (row.shows_c, *row.shows_band_c)), row.current_a, row.watts)
        table.append((_six(from_degc(row.temperature_c, unit)), unit, _six(row.ohm), " ".join(map(_six, row.parts)),
                      *map(_six, numbers), row.survival, row.remedy, _six(row.other_plug_v),
                      "yes" if row.outside else "", "" if row.other_leg_c is None else _six(from_degc(row.other_leg_c, unit)), row.note))
    return table


def _live(row: object, unit: str) -> str:
    band = wording.temperature_band(row.shows_band_c, unit)
    return f"{band}, or a code" if row.outside else band


def _plug(row: object) -> str:
    # Where the module may stand on its other input resistor, both voltages are right.
    volts = wording.volts(row.plug_v)
    return volts if row.other_plug_v is None else f"{volts} or {wording.volts(row.other_plug_v)}"


def _marked(row: object) -> str:
    # Silence means fine: the eye shall find the rows that are not.
    said = survival(row)
    return setting(row) if said == SURVIVAL["fine"] else f"{setting(row)} ({said})"


def _times(value: float | None, step: float) -> float | None:
    return None if value is None else value * step


def _six(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"
