"""Owns everything typed about a job as plain numbers for compiled loops: one ITEM a number or word."""

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from engine.by_hand import bad_chance, unsteady
from engine.module import TYPED, Typed, pack_typed
from engine.procedures import MA_FLOOR
from engine.seen import BETWEEN, OWN, RETURN_OHM, TO_RETURN

if TYPE_CHECKING:
    from engine.likelihood import Evidence
    from engine.readings import Reading
    from engine.terms import Term

# A reading is mistyped or taken from the wrong line about once in a hundred (common practice, no source).
SLIP = 0.01
# Or it is the right number in the other unit, degF for degC or ohm for kilohm (common practice, no source).
UNIT_SLIP = 0.003
VOLT_SPAN, LN_OHM_SPAN, LN_MA_SPAN = 15.0, 15.0, 8.0
OHM_FLOOR = 0.4
# An open three-wire signal pin in order reads within 0.15 V of where its input pulls it (published service figures).
OPEN_PIN_SD = 0.075
TO_RETURN_PIN = ("volts-return", "supply-return")
# What a meter reads on the plug: it jumps where a module switches its pull-up.
METERED = ("volts-return", "volts-battery", "current")
KEY_OFF_NOTHING, NOTHING_OTHERWISE = 0.9, 0.02
# What an item is, and how what was measured is compared.
SHOWS, MEASURED, THERMOMETER, WORD, MOVED, OPEN, BY_ROW = range(7)
PLAIN, LN_OHM, LN_ADDED_OHM, MILLIAMPS = range(4)
NOWHERE = -1

# One number or word of reading `reading` on hook-up `place`. A number lies in column `what` of what is seen, compared by `law`;
# `typed`, its standard deviation `spread` and, where ohm may have been typed for kilohm, `kilo`, each as typed and, where it has
# `others`, a thousand times more and less. A slip of it lies in `span`. A word is at the `high` end or the low one; what
# moved did so since `before`; what hangs on the row alone is in line `table` of the chances by row. A number shown, had it been in
# the other unit, `runs` so fast there where it runs by one as typed.
ITEM = np.dtype([(name, "i8") for name in ("reading", "kind", "place", "what", "law", "before", "table")]
                + [(name, "?") for name in ("others", "metered", "floats", "sweep", "dialled", "high", "moves")]
                + [(name, "f4") for name in ("span", "element_ohm", "width", "runs")]
                + [(name, "f4", (3,)) for name in ("typed", "spread", "kilo")])


class Items(NamedTuple):
    """What was typed, for compiled loops: ITEMs (k,), numbers first, `numbers` of them; those shown as TYPED (k, 2), as typed
    and in the other unit; chances (t, f) of what hangs on the row alone; how many readings there are."""

    items: np.ndarray
    shown: np.ndarray
    by_row: np.ndarray
    numbers: int
    readings: int


def pack_items(evidence: "Evidence") -> Items:
    """All that was typed in `evidence`, void readings left out."""
    packed = [_number(evidence, term) for term in evidence.terms]
    by_row: list[np.ndarray] = []
    for i, reading in enumerate(evidence.readings):
        if i not in evidence.void:
            packed += [(item, None) for item in _words(evidence, i, reading, by_row)]
    items, shown = np.zeros(len(packed), ITEM), np.zeros((len(packed), 2), TYPED)
    for k, (item, typed) in enumerate(packed):
        items[k] = item
        if typed is not None:
            shown[k] = [tuple(one) for one in typed]
    table = np.array(by_row) if by_row else np.zeros((0, len(evidence.model)))
    return Items(items, shown, table, len(evidence.terms), len(evidence.readings))


def _item(reading: int, kind: int, place: int | None) -> np.void:
    out = np.zeros(1, ITEM)[0]
    out["reading"], out["kind"], out["place"], out["before"] = reading, kind, NOWHERE if place is None else place, NOWHERE
    return out


def _number(evidence: "Evidence", term: "Term") -> tuple[np.void, list[Typed] | None]:
    """One numeric term, and what was typed of live data in both units."""
    test, hooked, scale = evidence.tests[term.reading], evidence.hooked, evidence.scale
    place = hooked.place.get(term.reading)
    if term.kind == "at":
        out = _item(term.reading, THERMOMETER, place)
        out["typed"], out["span"] = term.value, scale.span
        return out, None
    if term.kind == "shows":
        out = _item(term.reading, SHOWS, place)
        out["width"], out["dialled"], out["span"] = term.width, hooked.hook.dialled[place], scale.span
        out["sweep"], out["others"], out["runs"] = test.measures == "sweep", term.other != term.value, term.runs
        latched = evidence.model.setup.circuit.latched
        return out, [pack_typed(value, scale, evidence.default, evidence.default_share, latched, evidence.stood[term])
                     for value in (term.value, term.other)]
    out = _item(term.reading, MEASURED, place)
    out["metered"] = term.kind in METERED
    out["span"] = {"volts-return": VOLT_SPAN, "volts-battery": VOLT_SPAN, "current": LN_MA_SPAN}.get(term.kind, LN_OHM_SPAN)
    if term.kind == "volts-return" and test.measures == "shows":
        # Back-probing while a stand-in is on has its own slips; the number shown carries the test.
        out["span"] = VOLT_SPAN / 3
    if term.kind.endswith("ohms"):
        _put_ohms(evidence, term, out)
    elif term.kind == "current":
        out["what"], out["law"], out["element_ohm"] = TO_RETURN, MILLIAMPS, hooked.hook.element_ohm[place]
        out["typed"], out["spread"] = math.asinh(term.value / MA_FLOOR), 0.03
    else:
        open_pin = test.element == "open" and test.pins == 3 and term.kind.startswith("volts")
        out["what"], out["law"], out["typed"] = BETWEEN[term.kind], PLAIN, term.value
        out["spread"] = math.hypot(evidence.model.setup.meter.volt_band(term.value) / 2, OPEN_PIN_SD if open_pin else 0.015)
        three = evidence.model.setup.three_wire
        out["floats"] = term.kind in TO_RETURN_PIN and test.element == "sensor" and three is not None and three.active
    return out, None


def _put_ohms(evidence: "Evidence", term: "Term", out: np.void) -> None:
    """Puts measured ohms into `out`: as typed, and as if they had been a thousand times more or less."""
    meter, own = evidence.model.setup.meter, term.kind == "sensor-ohms"
    out["what"], out["law"], out["others"] = OWN if own else RETURN_OHM, LN_OHM if own else LN_ADDED_OHM, True
    for k, times in enumerate((1.0, 1e3, 1e-3)):
        value = term.value * times
        if own:
            known = meter.ohm_band(value) / max(value, 1.0) / 2
            out["typed"][k], out["spread"][k] = math.log(value + OHM_FLOOR), math.hypot(known, OHM_FLOOR / (value + 1.0))
            out["kilo"][k] = math.log(value * 1000.0 + OHM_FLOOR)
        else:
            out["typed"][k], out["spread"][k] = math.log1p(value), math.hypot(0.012, OHM_FLOOR / (value + 1.0))


def _words(evidence: "Evidence", i: int, reading: "Reading", by_row: list[np.ndarray]) -> list[np.void]:
    """What is no number of reading `i`: words, open, good or bad, and whether a sweep moved; `by_row` gains what hangs on rows."""
    test, place, out = evidence.tests[i], evidence.hooked.place.get(i), []
    rows = evidence.model.pick(np.arange(len(evidence.model)))

    def row_by_row(chance: np.ndarray) -> None:
        item = _item(i, BY_ROW, place)
        item["table"] = len(by_row)
        by_row.append(chance)
        out.append(item)
    if reading.word in ("maximum", "minimum"):
        item = _item(i, WORD, place)
        item["high"] = reading.word == "maximum"
        out.append(item)
    elif reading.shows in ("jumps", "drifts"):
        row_by_row(unsteady(test, rows))
    elif reading.shows == "not-available":
        chance = np.full(len(rows.kinds), NOTHING_OTHERWISE)
        chance[rows.having("key-off")] = KEY_OFF_NOTHING
        row_by_row(chance)
    if reading.shows == "did-not-move" or (test.measures == "sweep" and reading.shows not in (None, "not-available")):
        item = _item(i, MOVED, place)
        before = evidence.hooked.low_end.get(i, None if evidence.found in (None, i) else evidence.hooked.place[evidence.found])
        item["before"], item["moves"] = NOWHERE if before is None else before, reading.shows != "did-not-move"
        out.append(item)
    if reading.ohms == "open":
        item = _item(i, OPEN, place)
        item["what"] = OWN if test.measures == "sensor-ohms" else RETURN_OHM
        out.append(item)
    if reading.good is not None:
        row_by_row(bad_chance(test, rows, not reading.good))
    return out
