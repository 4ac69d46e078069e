"""Owns the quantities a sensor may stand for: unit, ends of the shown scale, and what is usual on the way there."""

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Quantity:
    """What live data shows and how it behaves; every value in `unit`.

    `low_end` and `high_end` are the ends of the shown scale; modules may stop
    anywhere from `low_ends_from` down and `high_ends_from` up. `whole` is the
    step shown. `true_mean` and `true_sd` describe the quantity as found where
    nobody told it, `surroundings_sd` where he did, `thermometer_sd` the check
    beside the part. `settings_at` are values worth dialling, `sign_at` the
    low and high value at which a complaint may have come up, `plausible_within`
    how far a module lets it stray, `moves_from` the least change a technician
    calls a change, `source_ohm` and `source_ln_sd` the usual input resistor [ohm]
    and the spread of its natural log; `bottom_beyond` whether some modules show
    the bottom of the scale beyond either limit; `item_top` the largest number
    its item can hold, where that is not `high_end`. Spreads are common practice, no source.
    """

    id: str
    unit: str
    low_end: float
    high_end: float
    low_ends_from: float
    high_ends_from: float
    whole: float
    reading_sd: float
    true_mean: float
    true_sd: float
    surroundings_sd: float
    thermometer_sd: float
    settings_at: tuple[float, ...]
    sign_at: tuple[float, float]
    plausible_within: float
    moves_from: float
    lowest: float
    highest: float
    source_ohm: float = 2700.0
    source_ln_sd: float = 0.85
    bottom_beyond: bool = False
    item_top: float | None = None

    @property
    def span(self) -> float:
        """What a slip of the pen is spread over."""
        return min(200.0, self.high_end - self.low_end)


# Byte A - 40 of SAE J1979; modules stop showing hotter readings from about 117 degC (published jumper tests).
TEMPERATURE = Quantity("temperature", "degC", -40.0, 215.0, -29.0, 117.0, 1.0, 0.4, 35.0, 25.0, 1.5, 0.6,
                       (50.0, 20.0, 80.0), (10.0, 85.0), 7.0, 2.5, -90.0, 320.0)
# Exhaust gas items are (256 A + B) / 10 - 40 in SAE J1979; sensors in use end near 1000 degC.
HOT_GAS = Quantity("hot-gas", "degC", -40.0, 1100.0, -29.0, 950.0, 1.0, 1.5, 60.0, 60.0, 3.0, 1.0,
                   (200.0, 50.0, 500.0), (15.0, 400.0), 30.0, 6.0, -90.0, 1300.0, item_top=6513.5)
# Level items are 100 A / 255 in SAE J1979; displays are slow and coarse.
LEVEL = Quantity("level", "percent", 0.0, 100.0, 3.0, 97.0, 1.0, 1.2, 50.0, 35.0, 6.0, 4.0,
                 (50.0, 25.0, 75.0), (15.0, 85.0), 12.0, 3.0, -60.0, 160.0)
# A pointer or segments, in percent of the scale: read to a few percent, its own error of as much; the coil in front of it has
# some ten to some hundred ohms (published: 13 ohm, and 410 ohm where a cluster feeds two 820 ohm side by side).
GAUGE = Quantity("gauge", "percent", 0.0, 100.0, 3.0, 97.0, 1.0, 4.0, 50.0, 35.0, 8.0, 6.0,
                 (50.0, 25.0, 75.0), (15.0, 85.0), 15.0, 6.0, -60.0, 160.0, 60.0, 0.9)
# Absolute throttle and pedal items are 100 A / 255 in SAE J1979; a position at its stop is as found. One valve shows 0 %
# whenever its input leaves 0.70 to 4.50 V (published service figures).
POSITION = Quantity("position", "percent", 0.0, 100.0, 0.3, 99.7, 0.4, 0.6, 0.0, 6.0, 1.5, 1.5,
                    (50.0, 20.0, 80.0), (5.0, 80.0), 8.0, 2.0, -60.0, 160.0, bottom_beyond=True)
# Manifold and barometric pressure are A kPa in SAE J1979; at key-on both are the day's barometer.
PRESSURE = Quantity("pressure", "kPa", 0.0, 255.0, 1.0, 253.0, 1.0, 0.8, 98.0, 4.0, 0.8, 0.5,
                    (60.0, 30.0, 100.0), (35.0, 100.0), 6.0, 2.0, -200.0, 400.0)
QUANTITIES = {q.id: q for q in (TEMPERATURE, HOT_GAS, LEVEL, GAUGE, POSITION, PRESSURE)}
BYTE_TOP_KPA = 255.0


def pressure_up_to(highest: float, lowest: float = 0.0) -> Quantity:
    """PRESSURE for a sensor whose values [kPa] run from `lowest` to `highest`; all of it wider where that is beyond one byte."""
    times = max((highest - lowest) / BYTE_TOP_KPA, 1.0)
    if times == 1.0 and lowest >= 0.0:
        return PRESSURE
    span = highest - lowest
    return replace(PRESSURE, low_end=min(lowest, 0.0) - 0.1 * span, high_end=highest + 0.1 * span,
                   low_ends_from=min(lowest, 0.0) - 0.09 * span, high_ends_from=highest + 0.09 * span,
                   reading_sd=0.8 * times, surroundings_sd=0.8 * times, thermometer_sd=0.5 * times,
                   settings_at=(lowest + 0.5 * span, lowest + 0.2 * span, lowest + 0.8 * span),
                   sign_at=(lowest + 0.05 * span, lowest + 0.8 * span), plausible_within=0.03 * span,
                   moves_from=0.01 * span, lowest=lowest - span, highest=highest + span)
