"""Owns hook-up drawings of three-wire plugs as SVG text: module, three wires, plug, what the hand puts where."""

from app import wording
from app.charts import INK, svg
from app.hook_up import HAND_COLOUR, RETURN_COLOUR, SIGNAL_COLOUR, arrow, box, dial, ground, look_here, mated, pin, wire, words

WIDTH, HEIGHT = 720, 350
SUPPLY_COLOUR = "#7a1f5c"
SUPPLY_Y, SIGNAL_Y, RETURN_Y = 75, 160, 245
MODULE_RIGHT, PLUG_X, PART_X = 190, 420, 580
MODULE_RING = (105, 160, 104, 130)
# Between which two pins, or a pin and battery negative (None), each test's meter sits.
METERS = {"volts": (SIGNAL_Y, RETURN_Y), "supply-volts": (SUPPLY_Y, RETURN_Y), "return-volts": (RETURN_Y, None),
          "return-ohms": (RETURN_Y, None)}


def drawing(kind: object, ratio: float | None = None) -> str:
    """How the test `kind` (engine TestKind of three pins) is connected, as SVG; `ratio` to divide by."""
    at_module = kind.to == "module" or kind.state == "module-key-on"
    parts = [*_module(), *_wires(), *_plug(mated(kind))]
    if kind.id == "find-pins":
        parts += _pin_finder()
    elif kind.measures == "good" and mated(kind):
        parts += [*_sensor(), *(look_here(*MODULE_RING) if at_module else [])]
    elif kind.measures == "good" and kind.element != "divider":
        parts += look_here(*MODULE_RING) if at_module else look_here(PLUG_X + 14, SIGNAL_Y, 62, 130)
    elif kind.element == "divider":
        setting = f"at {wording.share(ratio)}" if ratio is not None else "half way" if kind.measures in METERS else "set first"
        parts += _divider(setting, MODULE_RIGHT + 110 if at_module else PART_X, apart=kind.to == "chassis")
    elif kind.element == "feed-through":
        parts += _feed_through()
    elif kind.element == "sensor":
        parts += _sensor()
    if kind.measures in METERS:
        parts += _meter("Ω" if kind.measures == "return-ohms" else "V", *METERS[kind.measures])
    return svg(WIDTH, HEIGHT, parts, "How to connect")


def _module() -> list[str]:
    return [box(20, 30, MODULE_RIGHT - 20, 265, INK), words(105, 325, "module"), words(105, SUPPLY_Y + 8, "supply"),
            words(105, SIGNAL_Y + 8, "signal"), words(105, RETURN_Y + 8, "return")]


def _wires() -> list[str]:
    return [wire([(MODULE_RIGHT, y), (PLUG_X, y)], colour)
            for y, colour in ((SUPPLY_Y, SUPPLY_COLOUR), (SIGNAL_Y, SIGNAL_COLOUR), (RETURN_Y, RETURN_COLOUR))]


def _plug(on: bool) -> list[str]:
    pins = [] if on else [pin(PLUG_X + 14, y) for y in (SUPPLY_Y, SIGNAL_Y, RETURN_Y)]
    return [box(PLUG_X, SUPPLY_Y - 32, 28, RETURN_Y - SUPPLY_Y + 64, INK), words(PLUG_X + 14, RETURN_Y + 62, "plug"), *pins]


def _sensor() -> list[str]:
    start = PLUG_X + 28
    return [box(PART_X + 50, SUPPLY_Y - 12, 34, RETURN_Y - SUPPLY_Y + 24, INK), words(PART_X + 67, SUPPLY_Y - 26, "sensor"),
            *(wire([(start, y), (PART_X + 50, y)], INK) for y in (SUPPLY_Y, SIGNAL_Y, RETURN_Y))]


def _divider(setting: str, x: float, *, apart: bool) -> list[str]:
    """The potentiometer at its `setting` with its three leads, 1 kohm in the wiper's; `apart`: its low end on battery negative."""
    start = PLUG_X + 14 if x > PLUG_X else MODULE_RIGHT
    low = RETURN_Y + 10
    parts = [box(x - 15, SUPPLY_Y + 30, 30, low - SUPPLY_Y - 60, HAND_COLOUR),
             wire([(start, SUPPLY_Y), (x, SUPPLY_Y), (x, SUPPLY_Y + 30)], HAND_COLOUR),
             wire([(start, SIGNAL_Y), (start + 34, SIGNAL_Y)], HAND_COLOUR), box(start + 34, SIGNAL_Y - 12, 46, 24, HAND_COLOUR),
             words(start + 57, SIGNAL_Y - 20, "1 kΩ"), arrow(start + 80, SIGNAL_Y, x - 16, SIGNAL_Y),
             words(x + 24, SIGNAL_Y - 42, "stand-in", "start"),
             words(x + 24, SIGNAL_Y - 14, setting, "start", bold=True)]
    if not apart:
        return [*parts, wire([(x, low - 30), (x, RETURN_Y), (start, RETURN_Y)], HAND_COLOUR)]
    return [*parts, wire([(x, low - 30), (x, RETURN_Y + 30)], HAND_COLOUR), *ground(x, RETURN_Y + 30),
            words(702, RETURN_Y + 82, "battery negative", "end")]


def _feed_through() -> list[str]:
    start, x = PLUG_X + 14, PART_X - 40
    middle = (SUPPLY_Y + SIGNAL_Y) / 2
    return [wire([(start, SUPPLY_Y), (x, SUPPLY_Y), (x, middle - 24)], HAND_COLOUR), box(x - 13, middle - 24, 26, 48, HAND_COLOUR),
            wire([(x, middle + 24), (x, SIGNAL_Y), (start, SIGNAL_Y)], HAND_COLOUR), words(x + 24, middle + 8, "5 kΩ", "start", bold=True)]


def _meter(letter: str, high: float, low: float | None) -> list[str]:
    """A meter on the plug's back, left of it; `low` None: its other lead on battery negative."""
    x = PLUG_X - 70
    if low is None:
        return [wire([(PLUG_X - 10, high), (PLUG_X - 10, high + 40), (x + 32, high + 40)], HAND_COLOUR), *dial(letter, x, high + 40),
                wire([(x - 32, high + 40), (x - 62, high + 40), (x - 62, high + 50)], HAND_COLOUR), *ground(x - 62, high + 50),
                words(MODULE_RIGHT + 14, high + 96, "battery negative", "start")]
    middle = (high + low) / 2
    return [wire([(x, high), (x, middle - 32)], HAND_COLOUR), *dial(letter, x, middle),
            wire([(x, middle + 32), (x, low)], HAND_COLOUR)]


def _pin_finder() -> list[str]:
    end, x = RETURN_Y + 30, 660
    return [wire([(PLUG_X + 14, SUPPLY_Y), (x, SUPPLY_Y), (x, 128)], HAND_COLOUR), *dial("V", x, 160),
            wire([(x, 192), (x, end)], HAND_COLOUR), *ground(x, end), words(702, end + 52, "battery negative", "end"),
            wire([(x, end - 14), (PLUG_X + 90, end - 14), (PLUG_X + 90, 222)], HAND_COLOUR),
            box(PLUG_X + 75, 158, 30, 64, HAND_COLOUR), arrow(PLUG_X + 90, 158, PLUG_X + 34, SUPPLY_Y + 10),
            words(PLUG_X + 114, 198, "1 kΩ", "start", bold=True)]
