"""Owns hook-up drawings as SVG text: module, two wires, plug, and what the hand puts where; no streamlit inside."""

from xml.sax.saxutils import escape

from app import wording
from app.charts import GRID, INK, svg

SIGNAL_COLOUR, RETURN_COLOUR, HAND_COLOUR = "#a84300", "#0b4a5e", "#17643a"
WIDTH, HEIGHT = 720, 330
SIGNAL_Y, RETURN_Y = 105, 215
MODULE_RIGHT, PLUG_X, PART_X = 190, 420, 560
MODULE_RING = (105, 155, 104, 120)


def drawing(kind: object, ohm: float | None = None, *, one_wire: bool = False, feed_v: float | None = 5.0,
            reader: str = "module") -> str:
    """How the test `kind` (engine TestKind) is connected, as SVG; `ohm` to dial in.

    `one_wire`: the sender's body, in the engine block, is the return. `reader` names what reads it, a module or a gauge. `feed_v` [V] is what feeds the input, None where
    nobody knows.
    """
    at_module = kind.to == "module" or kind.state == "module-key-on"
    to_battery = kind.to == "chassis" or kind.measures == "return-ohms" or kind.id == "find-pins"
    parts = [*_module(feed_v, reader), *(_one_wire(kind.measures, to_battery, "" if reader == "gauge" else "engine block") if one_wire else _harness()),
             *_plug(kind.element == "sensor" or mated(kind), one_wire=one_wire)]
    if kind.id == "find-pins":
        parts += _pin_finder()
    elif kind.measures == "good" and mated(kind):
        # Looked at on the reader or in the cluster, or with another module: the sensor is on its plug.
        parts += [*_part("sensor", PART_X, None), *(look_here(*MODULE_RING) if at_module else [])]
    elif kind.measures == "good" and kind.element == "none":
        parts += look_here(*MODULE_RING) if at_module else look_here(PLUG_X + 14, (SIGNAL_Y + RETURN_Y) / 2, 62, 88)
    elif kind.measures == "current":
        parts += [*_meter("mA", PLUG_X + 14, SIGNAL_Y, RETURN_Y), *_fuse()]
    elif kind.measures == "volts":
        parts += _meter("V", PLUG_X + 14, SIGNAL_Y, RETURN_Y)
    elif kind.measures == "return-ohms":
        parts += _return_meter()
    elif kind.measures == "sensor-ohms":
        parts += _sensor_meter()
    elif at_module:
        parts += _part(kind.element, MODULE_RIGHT + 70, ohm)
        parts.append(wire([(MODULE_RIGHT, RETURN_Y), (MODULE_RIGHT + 70, RETURN_Y)], RETURN_COLOUR))
    elif kind.to == "chassis":
        parts += _to_chassis(kind.element, ohm, "battery negative" if one_wire else "chassis", one_wire=one_wire)
    elif kind.element == "short":
        parts += _bridge()
    elif kind.element in ("stand-in", "sensor"):
        parts += _part(kind.element, PART_X, ohm)
    return svg(WIDTH, HEIGHT, parts, "How to connect")


def mated(kind: object) -> bool:
    """Whether the sensor is on its plug in the test `kind`."""
    on_it = ("sensor",) if kind.state == "module-key-on" else ("sensor", "none") if kind.state == "plugged-key-on" else ()
    return kind.element in on_it


def _module(feed_v: float | None, reader: str) -> list[str]:
    middle = SIGNAL_Y - 52
    return [box(20, 30, MODULE_RIGHT - 20, 250, INK), words(105, 310, reader),
            words(60, middle + 8, "+" if feed_v is None else f"{feed_v:.3g} V"), wire([(96, middle), (112, middle)], INK), box(112, middle - 12, 46, 24, INK),
            wire([(158, middle), (172, middle), (172, SIGNAL_Y), (MODULE_RIGHT, SIGNAL_Y)], INK),
            wire([(MODULE_RIGHT, RETURN_Y), (120, RETURN_Y), (120, RETURN_Y + 22)], INK), *ground(120, RETURN_Y + 22)]


def _harness() -> list[str]:
    return [wire([(MODULE_RIGHT, SIGNAL_Y), (PLUG_X, SIGNAL_Y)], SIGNAL_COLOUR), words(305, SIGNAL_Y - 14, "signal wire"),
            wire([(MODULE_RIGHT, RETURN_Y), (PLUG_X, RETURN_Y)], RETURN_COLOUR), words(305, RETURN_Y + 32, "return wire")]


def _one_wire(measures: str, apart: bool, metal_of: str) -> list[str]:
    """The signal wire alone, and the metal the sender sits in, `metal_of` where that is known; `apart` leaves room for
    another ground beside it."""
    signal = [wire([(MODULE_RIGHT, SIGNAL_Y), (PLUG_X, SIGNAL_Y)], SIGNAL_COLOUR), words(305, SIGNAL_Y - 14, "signal wire")]
    if measures == "sensor-ohms":
        return signal
    metal = [wire([(PLUG_X - 6, RETURN_Y), (560 if apart else 690, RETURN_Y)], RETURN_COLOUR), *ground(PLUG_X + 30, RETURN_Y + 4)]
    if apart:
        return [*signal, *metal, words(PLUG_X - 16, RETURN_Y - 2, f"sender's {'body,' if metal_of else 'ground'}", "end"),
                *([words(PLUG_X - 16, RETURN_Y + 26, metal_of, "end")] if metal_of else [])]
    return [*signal, *metal, words(702, RETURN_Y + 60, f"sender's body, {metal_of}" if metal_of else "sender's ground", "end")]


def _plug(mated: bool, *, one_wire: bool = False) -> list[str]:
    if one_wire:
        end = [] if mated else [pin(PLUG_X + 14, SIGNAL_Y)]
        return [box(PLUG_X, SIGNAL_Y - 18, 28, 36, INK), words(PLUG_X + 14, SIGNAL_Y - 34, "terminal"), *end]
    pins = [] if mated else [pin(PLUG_X + 14, SIGNAL_Y), pin(PLUG_X + 14, RETURN_Y)]
    return [box(PLUG_X, SIGNAL_Y - 32, 28, RETURN_Y - SIGNAL_Y + 64, INK),
            words(PLUG_X + 14, RETURN_Y + 62, "plug"), *pins]


def _part(element: str, x: float, ohm: float | None) -> list[str]:
    """Sensor or stand-in between signal and return, at `x`."""
    colour = INK if element == "sensor" else HAND_COLOUR
    start = PLUG_X + 14 if x > PLUG_X else x
    middle = (SIGNAL_Y + RETURN_Y) / 2
    parts = [wire([(start, SIGNAL_Y), (x, SIGNAL_Y), (x, middle - 32)], colour),
             wire([(x, middle + 32), (x, RETURN_Y), (start, RETURN_Y)], colour), box(x - 15, middle - 32, 30, 64, colour)]
    name, at = ("sensor", middle + 6) if element == "sensor" else ("stand-in", middle - 6)
    parts.append(words(x + (26 if element == "sensor" else 40), at, name, "start"))
    if element != "sensor":
        parts.append(arrow(x - 34, middle + 24, x + 30, middle - 26))
        value = wording.ohms(ohm) if ohm is not None else "set it first"
        parts.append(words(x + 40, middle + 24, value, "start", bold=True))
    return parts


def _to_chassis(element: str, ohm: float | None, name: str, *, one_wire: bool) -> list[str]:
    end, x = RETURN_Y + 30, PART_X + (30 if one_wire else 0)
    parts = _part(element, x, ohm)
    label = words(702, end + 52, name, "end") if one_wire else words(x + 34, end + 14, name, "start")
    return [parts[0], wire([(x, (SIGNAL_Y + RETURN_Y) / 2 + 32), (x, end)], HAND_COLOUR), *parts[2:], *ground(x, end), label,
            *([] if one_wire else [pin(PLUG_X + 14, RETURN_Y)])]


def _bridge() -> list[str]:
    return [wire([(PLUG_X + 14, SIGNAL_Y), (PART_X, SIGNAL_Y), (PART_X, RETURN_Y), (PLUG_X + 14, RETURN_Y)], HAND_COLOUR),
            words(PART_X + 16, (SIGNAL_Y + RETURN_Y) / 2 + 6, "bridge lead", "start")]


def _meter(letter: str, x: float, top: float, bottom: float) -> list[str]:
    middle = (top + bottom) / 2
    return [wire([(x, top), (PART_X, top), (PART_X, middle - 32)], HAND_COLOUR), *dial(letter, PART_X, middle),
            wire([(PART_X, middle + 32), (PART_X, bottom), (x, bottom)], HAND_COLOUR)]


def _fuse() -> list[str]:
    return [f'<rect x="{PLUG_X + 54}" y="{SIGNAL_Y - 12}" width="56" height="24" rx="8" fill="{GRID}" stroke="{HAND_COLOUR}" '
            'stroke-width="4"/>', words(PLUG_X + 118, SIGNAL_Y - 20, "fuse 1 A", bold=True)]


def _pin_finder() -> list[str]:
    """Meter from a pin to battery negative, and 1 kohm beside it that is touched to the same pin."""
    end, x = RETURN_Y + 30, 660
    return [wire([(PLUG_X + 14, SIGNAL_Y), (x, SIGNAL_Y), (x, 128)], HAND_COLOUR), *dial("V", x, 160),
            wire([(x, 192), (x, end)], HAND_COLOUR), *ground(x, end), words(702, end + 52, "battery negative", "end"),
            wire([(x, end - 14), (PLUG_X + 90, end - 14), (PLUG_X + 90, 192)], HAND_COLOUR),
            box(PLUG_X + 75, 128, 30, 64, HAND_COLOUR), arrow(PLUG_X + 90, 128, PLUG_X + 34, SIGNAL_Y + 10),
            words(PLUG_X + 114, 168, "1 kΩ", "start", bold=True)]


def _return_meter() -> list[str]:
    return [wire([(PLUG_X + 14, RETURN_Y), (PART_X - 32, RETURN_Y)], HAND_COLOUR), *dial("Ω", PART_X, RETURN_Y),
            wire([(PART_X + 32, RETURN_Y), (650, RETURN_Y), (650, RETURN_Y + 30)], HAND_COLOUR),
            *ground(650, RETURN_Y + 30), words(702, RETURN_Y + 88, "battery negative", "end")]


def _sensor_meter() -> list[str]:
    middle = (SIGNAL_Y + RETURN_Y) / 2
    return [box(PART_X - 65, middle - 32, 30, 64, INK), words(PART_X - 50, middle + 78, "sensor"),
            wire([(PART_X - 50, middle - 32), (PART_X - 50, SIGNAL_Y), (PART_X + 80, SIGNAL_Y), (PART_X + 80, middle - 32)],
                  HAND_COLOUR),
            wire([(PART_X + 80, middle + 32), (PART_X + 80, RETURN_Y), (PART_X - 50, RETURN_Y), (PART_X - 50, middle + 32)],
                  HAND_COLOUR), *dial("Ω", PART_X + 80, middle)]


def look_here(x: float, y: float, wide: float, high: float) -> list[str]:
    """A broken ring round what to look at, `wide` and `high` from its middle."""
    return [f'<ellipse cx="{x}" cy="{y}" rx="{wide}" ry="{high}" fill="none" '
            f'stroke="{HAND_COLOUR}" stroke-width="6" stroke-dasharray="14 9"/>',
            words(x + wide + 10, y + 6, "here", "start", bold=True)]


def dial(letter: str, x: float, y: float) -> list[str]:
    """A meter with `letter` on it."""
    return [f'<circle cx="{x}" cy="{y}" r="32" fill="{GRID}" stroke="{HAND_COLOUR}" stroke-width="5"/>',
            words(x, y + 9, letter, bold=True)]


def ground(x: float, y: float) -> list[str]:
    """A ground sign with its middle at (x, y)."""
    return [wire([(x - half, y + step), (x + half, y + step)], INK) for half, step in ((24, 0), (15, 10), (6, 20))]


def pin(x: float, y: float) -> str:
    """An open pin."""
    return f'<circle cx="{x}" cy="{y}" r="7" fill="{INK}"/>'


def arrow(x1: float, y1: float, x2: float, y2: float) -> str:
    """A lead with an arrow at its end."""
    return (f'<path d="M{x1} {y1} L{x2} {y2} m-16 2 l16 -2 l-4 15" fill="none" stroke="{HAND_COLOUR}" stroke-width="4"/>')


def wire(points: list[tuple[float, float]], colour: str) -> str:
    """A wire along `points`."""
    path = " ".join(f"{x},{y}" for x, y in points)
    return f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="5"/>'


def box(x: float, y: float, width: float, height: float, colour: str) -> str:
    """A resistor, plug or housing."""
    return (f'<rect x="{x}" y="{y}" width="{width}" height="{height}" rx="5" fill="none" stroke="{colour}" '
            f'stroke-width="4"/>')


def words(x: float, y: float, text: str, anchor: str = "middle", *, bold: bool = False) -> str:
    """A label."""
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x}" y="{y}" text-anchor="{anchor}"{weight}>{escape(text)}</text>'
