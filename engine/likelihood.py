"""Owns how well a reading fits a row: the density of what was typed, robust against a slip of the pen."""

from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from engine.curves import KELVIN
from engine.faults import CONTACTS, HARNESS_SIDE, HEALTHY, SENSOR_SIDE, CircuitState
from engine.model import Model
from engine.module import (COLD_ENDS_FROM_C, HOT_ENDS_FROM_C, TYPICAL_BETA_K, outside_limits, shown_density)
from engine.procedures import SWEEP_SHARE, Hookup, Shown, TestKind, hookup, predict
from engine.readings import Reading
from engine.signs import SIGN_AT_C, sign_likelihood
from engine.units import to_degc

# A reading is mistyped or taken from the wrong line about once in a hundred (common practice, no source).
SLIP = 0.01
SHOWN_SPAN_C, VOLT_SPAN, LN_OHM_SPAN = 200.0, 15.0, 15.0
READING_SD_C = 0.4
AT_SD_C = 1.0
SWEEP_WIDTH_C, SHORT_OF_END, STOPS_WITHIN_C = 1.5, 0.15, 50.0
TABLE_SD_PER_K = 0.05
OHM_FLOOR = 0.4
OPEN_FROM_OHM = 1.5e6
MOVES_FROM_C = 2.5
DEFAULT_TOLD, DEFAULT_SUSPECTED = 0.8, 0.1
# An intermittent fault shows itself in about a quarter of the readings.
SHOWS_ITSELF = 0.25


class Term(NamedTuple):
    """One numeric result: `row` of the hook-up, `kind`, the `value` in SI, and the value had the unit been the other."""

    reading: int
    kind: str
    value: float
    other: float
    width: float


class Evidence:
    """Everything typed about one job, ready to be weighed against samples of the model's rows."""

    def __init__(self, model: Model, readings: tuple[Reading, ...]) -> None:
        self.model = model
        self.readings = readings
        kinds = {t.id: t for t in model.setup.tests}
        self.tests: tuple[TestKind, ...] = tuple(kinds[r.test] for r in readings)
        self.end_to_end_ohm = model.setup.stand_in.end_to_end_ohm or 1e4
        self.signs = model.setup.signs
        # Behind the readings' own hook-ups: the low end of each sweep, then the plugged sensor at the signs' temperatures.
        sweeps = [i for i, t in enumerate(self.tests) if t.measures == "sweep"]
        self.low_end = {i: len(readings) + k for k, i in enumerate(sweeps)}
        dial = TestKind("", "", "stand-in", "return", "shows", 0.0, "unplugged-key-on")
        plugged = TestKind("", "", "sensor", "return", "shows", 0.0, "plugged-key-on")
        low = (Reading("", ohm=self.end_to_end_ohm / SWEEP_SHARE),) * len(sweeps)
        at = tuple(Reading("", at=(t, "degC")) for t in SIGN_AT_C) if self.signs else ()
        self.hook = hookup(self.tests + (dial,) * len(low) + (plugged,) * len(at), readings + low + at,
                           self.end_to_end_ohm)
        # The readings alone, for slopes, which need neither sweeps' low ends nor signs.
        self.readings_hook = Hookup(*(part[:len(readings)] for part in self.hook))
        self.terms = tuple(t for i, r in enumerate(readings) for t in self._terms(i, r))
        self.default_c, self.default_share = self._default()
        self.found = next((i for i, r in enumerate(readings) if r.test == "as-found"), None)

    def _terms(self, i: int, reading: Reading) -> list[Term]:
        test = self.tests[i]
        out = []
        shows = reading.shows_c
        if isinstance(shows, tuple) and test.measures == "sweep":
            # Without the end-to-end value the ends of a sweep say only that the number moved.
            if self.model.setup.stand_in.end_to_end_ohm is not None:
                out.append(Term(i, "shows", shows[0], _other_unit(reading.shows[0], reading.unit), SWEEP_WIDTH_C))
        elif isinstance(shows, tuple):
            middle = (reading.shows[0] + reading.shows[1]) / 2
            out.append(Term(i, "shows", (shows[0] + shows[1]) / 2, _other_unit(middle, reading.unit),
                            (shows[1] - shows[0]) / 2))
        elif isinstance(shows, float):
            out.append(Term(i, "shows", shows, _other_unit(reading.shows, reading.unit), 0.0))
        if reading.signal_to_return_v is not None:
            out.append(Term(i, "volts-return", reading.signal_to_return_v, 0.0, 0.0))
        if reading.signal_to_battery_v is not None:
            out.append(Term(i, "volts-battery", reading.signal_to_battery_v, 0.0, 0.0))
        if isinstance(reading.ohms, float):
            kind = "sensor-ohms" if test.measures == "sensor-ohms" else "return-ohms"
            out.append(Term(i, kind, reading.ohms, 0.0, 0.0))
        if reading.at_c is not None:
            out.append(Term(i, "at", reading.at_c, 0.0, 0.0))
        return out

    def _default(self) -> tuple[float | None, float]:
        """The number shown in place of volts out of limits, and how surely it is.

        Told, or suspected: where the same mid-scale number stood under two
        different hook-ups, it may well be the module's own.
        """
        told = self.model.setup.circuit.default_c
        if told is not None:
            return told, DEFAULT_TOLD
        seen: dict[int, int] = {}
        for term in self.terms:
            if term.kind == "shows" and term.width == 0.0 and COLD_ENDS_FROM_C < term.value < HOT_ENDS_FROM_C:
                seen[round(term.value)] = seen.get(round(term.value), 0) + 1
        twice = [value for value, count in seen.items() if count > 1]
        return (float(max(twice, key=lambda v: (seen[v], -v))), DEFAULT_SUSPECTED) if twice else (None, 0.0)

    def shown(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray, steady: bool = False,
              hook: Hookup | None = None) -> Shown:
        """What every reading (or every hook-up of `hook`) would show for samples (share, z) of `rows`; `steady` with
        what comes and goes in order."""
        model = self.model
        state = model.state(share, z, rows)
        comes = model.intermittent[rows]
        if steady and comes.any():
            state = CircuitState(**{k: np.where(comes[:, None], v, getattr(state, k)) for k, v in HEALTHY.items()})
        beside = model.rows_of("stand-in-beside")[rows][:, None]
        return predict(self.hook if hook is None else hook, model.setup.circuit, model.table, state,
                       model.unknowns(z, rows), beside)

    def spread_c(self, shown: Shown, r: int, rows: np.ndarray, dialled: bool) -> np.ndarray:
        """Standard deviation (f, s) [degC] of live data about `shown.temperature_c[r]`: converter, table, setting, rest."""
        t = np.clip(shown.temperature_c[r], -60.0, 230.0)
        low, high = self.model.ranges[self.model.curve[rows]].T[:, :, None]
        variance = READING_SD_C**2 + np.square(shown.step_c[r]) / 12.0
        variance += np.square(TABLE_SD_PER_K * (np.maximum(low - t, 0.0) + np.maximum(t - high, 0.0)))
        if dialled:
            setting = self.model.setup.meter.ohm_percent / 100.0 / np.sqrt(3.0) / TYPICAL_BETA_K
            variance += np.square(setting * np.square(t + KELVIN))
        return np.sqrt(variance)

    def numbers(self, shown: Shown, term: Term, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Predicted value, its standard deviation and the typed value of one term, each broadcasting over (f, s)."""
        r, meter = term.reading, self.model.setup.meter
        if term.kind == "shows":
            mistaken = self.model.rows_of("unit-mistaken")[rows][:, None]
            spread = np.hypot(self.spread_c(shown, r, rows, bool(self.hook.dialled[r].item())), term.width)
            return shown.temperature_c[r], spread, np.where(mistaken, term.other, term.value)
        if term.kind == "return-ohms":
            spread = np.hypot(0.012, OHM_FLOOR / (term.value + 1.0))
            return np.log1p(shown.return_ohm), spread, np.log1p(term.value)
        if term.kind == "sensor-ohms":
            known = meter.ohm_band(term.value) / max(term.value, 1.0) / 2
            return (np.log(shown.sensor_ohm[r] + OHM_FLOOR), np.hypot(known, OHM_FLOOR / (term.value + 1.0)),
                    self._mistaken_ohm(term.value, rows))
        if term.kind == "at":
            return shown.true_c, np.array(AT_SD_C), term.value
        ground = shown.nodes.return_v[r] if term.kind == "volts-return" else 0.0
        return shown.nodes.plug_v[r] - ground, np.hypot(meter.volt_band(term.value) / 2, 0.015), term.value

    def _mistaken_ohm(self, ohm: float, rows: np.ndarray) -> np.ndarray:
        """ln of the measured ohms; a job that types ohm for kilohm does so with every value."""
        mistaken = self.model.rows_of("kilohm-mistaken")[rows][:, None]
        return np.where(mistaken, np.log(ohm * 1000.0 + OHM_FLOOR), np.log(ohm + OHM_FLOOR))

    def weigh(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Log likelihood (f, s) of readings and signs together; of each reading (r, f, s); the chance (r, f, s) of its slip."""
        if not self.readings and not self.signs:
            return np.zeros(share.shape), np.zeros((0, *share.shape)), np.zeros((0, *share.shape))
        shown = self.shown(share, z, rows)
        density, slip = self._by_reading(shown, share, z, rows)
        return density.sum(axis=0) + self._signs_ln(shown, rows), density, slip

    def _by_reading(self, shown: Shown, share: np.ndarray, z: np.ndarray,
                    rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        model = self.model
        n, shape = len(self.readings), share.shape
        if n == 0:
            return np.zeros((0, *shape)), np.zeros((0, *shape))
        density, slip = self._densities(shown, share, rows)
        comes = model.intermittent[rows]
        if comes.any():
            inside = rows[comes]
            healthy = self.shown(share[comes], z[comes], inside, steady=True)
            still, still_slip = self._densities(healthy, share[comes], inside)
            mixed = np.logaddexp(np.log1p(-SHOWS_ITSELF) + still, np.log(SHOWS_ITSELF) + density[:, comes])
            density[:, comes] = np.logaddexp(mixed, self._jumping(inside)[:, :, None])
            slip[:, comes] = np.minimum(slip[:, comes], still_slip)
        return density, slip

    def _signs_ln(self, shown: Shown, rows: np.ndarray) -> np.ndarray:
        if not self.signs:
            return np.zeros(shown.temperature_c.shape[1:])
        circuit = self.model.setup.circuit
        temperature, volts = shown.temperature_c[-len(SIGN_AT_C):], shown.converter_v[-len(SIGN_AT_C):]
        outside = outside_limits(volts, circuit.open_v or 5.0, circuit.low_limit_v, circuit.high_limit_v)
        kinds = tuple(self.model.kinds[i] for i in rows)
        return sign_likelihood(self.signs, kinds, temperature, outside, volts > (circuit.open_v or 5.0) / 2)

    def _densities(self, shown: Shown, share: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        n, shape = len(self.readings), share.shape
        density, slip = np.zeros((n, *shape)), np.zeros((n, *shape))
        outside = self._outside(shown)
        frozen = self.stuck_c(share, rows)
        for term in self.terms:
            value, spread, typed = self.numbers(shown, term, rows)
            if term.kind == "shows":
                fit = shown_density(typed, value, spread, outside[term.reading], self.default_c,
                                    self.default_share)
                if self.tests[term.reading].measures == "sweep":
                    # A hand may stop short of the end of the track.
                    fit = (1.0 - SHORT_OF_END) * fit + SHORT_OF_END * ndtr((typed - value) / spread) / STOPS_WITHIN_C
                fit = np.where(np.isnan(frozen), fit, np.exp(-0.5 * np.square((typed - frozen) / 0.8)) / 2.0)
                span = SHOWN_SPAN_C
            else:
                fit = np.exp(-0.5 * np.square((typed - value) / spread)) / (np.sqrt(2 * np.pi) * spread)
                if term.kind == "at":
                    # A thermometer at the part tells its temperature in the vehicle too, unless it was heated on the bench.
                    density[term.reading] += np.log(0.5 * fit + 0.5 / SHOWN_SPAN_C)
                    continue
                span = VOLT_SPAN if term.kind.startswith("volts") else LN_OHM_SPAN
                if term.kind == "volts-return" and self.tests[term.reading].measures == "shows":
                    # Back-probing while a stand-in is on has its own slips; the number shown carries the test.
                    span = VOLT_SPAN / 3
            robust = (1.0 - SLIP) * fit + SLIP / span
            density[term.reading] += np.log(robust)
            slip[term.reading] = np.maximum(slip[term.reading], SLIP / span / robust)
        for i, reading in enumerate(self.readings):
            self._words(i, reading, shown, rows, frozen, density)
        return density, slip

    def _words(self, i: int, reading: Reading, shown: Shown, rows: np.ndarray, frozen: np.ndarray,
               density: np.ndarray) -> None:
        """Adds what is no number: words, open, good or bad, and whether a sweep moved."""
        test, t = self.tests[i], shown.temperature_c
        still = ~np.isnan(frozen)
        soft = 2.0
        if reading.shows == "maximum":
            density[i] += np.log(np.where(still, 0.02, 0.01 + 0.95 * ndtr((t[i] - HOT_ENDS_FROM_C) / soft)))
        elif reading.shows == "minimum":
            density[i] += np.log(np.where(still, 0.02, 0.01 + 0.95 * ndtr((COLD_ENDS_FROM_C - t[i]) / soft)))
        elif reading.shows in ("jumps", "drifts"):
            density[i] += np.where(self.model.intermittent[rows][:, None], -30.0, self._unsteady(test, rows)[:, None])
        if reading.shows == "did-not-move" or (test.measures == "sweep" and reading.shows not in (None, "not-available")):
            moved = self._moved(i, shown)
            chance = np.where(still, 0.01, 0.02 + 0.96 * moved)
            density[i] += np.log(1.0 - chance if reading.shows == "did-not-move" else chance)
        if reading.ohms == "open":
            ohm = shown.sensor_ohm[i] if test.measures == "sensor-ohms" else shown.return_ohm
            density[i] += np.log(0.002 + 0.99 * ndtr(np.log(ohm / OPEN_FROM_OHM) / 0.4))
        if reading.good is not None:
            density[i] += np.log(_bad_chance(test, self.model, rows, not reading.good))[:, None]

    def _moved(self, i: int, shown: Shown) -> np.ndarray:
        """Chance (f, s) that the number moved between what was there before and what is there now."""
        t = np.clip(shown.temperature_c, -40.0, 150.0)
        if self.tests[i].measures == "sweep":
            change = np.abs(t[i] - t[self.low_end[i]])
        elif self.found is not None and i != self.found:
            change = np.abs(t[i] - t[self.found])
        else:
            return np.full(t.shape[1:], 0.5)
        return ndtr((change - MOVES_FROM_C) / 1.5)

    def _outside(self, shown: Shown) -> np.ndarray:
        circuit = self.model.setup.circuit
        return outside_limits(shown.converter_v, circuit.open_v or 5.0, circuit.low_limit_v, circuit.high_limit_v)

    def stuck_c(self, share: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """The number (f, s) a frozen reading is stuck at, nan for all other rows."""
        frozen = np.full(share.shape, np.nan)
        mask = self.model.rows_of("reading-frozen")[rows]
        if mask.any():
            frozen[mask] = self.model.severity(share[mask], rows[mask])
        return frozen

    def _unsteady(self, test: TestKind, rows: np.ndarray) -> np.ndarray:
        """Log chance (f,) of a jumping number: contacts that pass through added ohms now and then, others hardly."""
        out = []
        for i in rows:
            kind = self.model.kinds[i]
            out.append(0.06 if kind.effect in CONTACTS and _in_path(test, kind.effect) else 0.006)
        return np.log(out)

    def _jumping(self, rows: np.ndarray) -> np.ndarray:
        """Log chance (r, f) that each reading jumps by an intermittent fault; -inf where it did not jump."""
        out = np.full((len(self.readings), len(rows)), -np.inf)
        for i, (test, reading) in enumerate(zip(self.tests, self.readings, strict=True)):
            if reading.shows in ("jumps", "drifts"):
                for k, row in enumerate(rows):
                    out[i, k] = np.log(0.3 if _in_path(test, self.model.kinds[row].effect) else 0.006)
        return out


def _in_path(test: TestKind, effect: str) -> bool:
    """Whether a fault of this effect lies in the current's way in this test."""
    if effect in SENSOR_SIDE:
        return test.element == "sensor"
    if effect in HARNESS_SIDE:
        return test.to != "module" and not (effect.startswith("return") and test.to == "chassis")
    return True


def _bad_chance(test: TestKind, model: Model, rows: np.ndarray, bad: bool) -> np.ndarray:
    table = dict(test.bad)
    chance = np.array([table.get(model.kinds[i].id, test.false_alarm) for i in rows])
    return chance if bad else 1.0 - chance


def _other_unit(value: float, unit: str | None) -> float:
    """The typed number in degC, had it been read in the other unit."""
    return float(value) if unit == "degF" else to_degc(value, "degF")
