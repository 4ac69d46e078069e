"""Owns the dial sheet of three-wire sensors as rows of text: what screen, paper and CSV show of the engine's DivideRow."""

from collections.abc import Sequence

from app import wording
from engine.units import from_degc

HEAD = ("At", "Set", "Live data", "Signal to return")
FINE_HEAD = ("At", "Hand / meter within", "Outer legs swapped reads")
CSV_HEAD = ("value", "unit", "share_to_set", "ohm_return_to_wiper", "parts_ohm", "reach", "known", "share_at_signal", "plug_v",
            "plug_v_low", "plug_v_high", "shows", "shows_low", "shows_high", "stand_in", "remedy", "code_sets", "swapped_shows")


def rows(sheet: Sequence[object], unit: str) -> list[tuple[str, ...]]:
    """One row of words for each DivideRow, under HEAD."""
    return [(wording.temperature(row.value, unit), _setting(row), _live(row, unit), wording.volt_band(row.plug_v_band))
            for row in sheet]


def fine_rows(sheet: Sequence[object], unit: str) -> list[tuple[str, ...]]:
    """How near each value can be set and known, and what swapped legs would show, under FINE_HEAD."""
    return [(wording.temperature(row.value, unit), wording.within(row.reach, row.known, unit),
             wording.temperature(row.other_leg, unit)) for row in sheet]


def notes(sheet: Sequence[object], unit: str) -> list[str]:
    """What volts and live data need said, each sentence once with where it holds."""
    said: dict[str, list[str]] = {}
    for row in sheet:
        at = wording.temperature(row.value, unit)
        if row.outside:
            said.setdefault("A code sets there, and the module may show a number of its own instead.", []).append(at)
        if row.note:
            said.setdefault(row.note, []).append(at)
    return [sentence if len(places) == len(sheet) else f"At {', '.join(places)}: {sentence}" for sentence, places in said.items()]


def remedies(sheet: Sequence[object], unit: str) -> list[str]:
    """What would serve better, one sentence for each row that has one."""
    return [f"{wording.temperature(row.value, unit)}: {row.remedy}" for row in sheet if row.remedy]


def csv_rows(sheet: Sequence[object], unit: str) -> list[tuple[object, ...]]:
    """Numbers at 6 figures under CSV_HEAD, values in `unit`."""
    return [(_six(from_degc(row.value, unit)), unit, _six(row.ratio), _six(row.ohm), " ".join(map(_six, row.parts)), _six(row.reach),
             _six(row.known), _six(row.share), _six(row.plug_v), *map(_six, row.plug_v_band), _six(row.shows),
             *map(_six, row.shows_band), row.survival, row.remedy, "yes" if row.outside else "", _six(row.other_leg)) for row in sheet]


def _setting(row: object) -> str:
    if row.ohm is None:
        return f"{wording.share(row.ratio)} ({wording.CANNOT_BE_SET})"
    if row.parts:
        return f"{wording.share(row.ratio)}: {wording.ohms(row.parts[0])} to return, {wording.ohms(row.parts[1])} to supply"
    said = f"{wording.share(row.ratio)}: {wording.ohms(row.ohm)} to return"
    return said if row.survival == "fine" else f"{said} (do not connect)"


def _live(row: object, unit: str) -> str:
    band = wording.temperature_band(row.shows_band, unit)
    return f"{band}, or a code" if row.outside else band


def _six(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"
