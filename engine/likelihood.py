"""Owns how well readings fit a row: the density of what was typed, robust against a slip of the pen."""

import math
from functools import cached_property

import numpy as np
from scipy.special import ndtr

from engine.batches import exp, held, single
from engine.faults import CircuitState, Rows, in_order
from engine.hooked import everything, hooked
from engine.model import Model, Z
from engine.module import ROOT_TWO_PI, WHOLE_MIDDLE, WHOLE_SD, converter_step, outside_limits, shown_density
from engine.procedures import MA_FLOOR, Hookup, Shown, TestKind, predict
from engine.readings import Reading
from engine.signs import sign_likelihood
from engine.by_hand import bad_chance, jumps, unsteady
from engine.terms import Term, own_number, stood, terms_of
from engine.void import void_readings

# A reading is mistyped or taken from the wrong line about once in a hundred (common practice, no source).
SLIP = 0.01
# Or it is the right number in the other unit, degF for degC or ohm for kilohm (common practice, no source).
UNIT_SLIP = 0.003
VOLT_SPAN, LN_OHM_SPAN, LN_MA_SPAN = 15.0, 15.0, 8.0
AT_SD = 1.0
SHORT_OF_END, STOPS_WITHIN = 0.15, 50.0
TABLE_SD_PER_K = 0.05
OHM_FLOOR = 0.4
OPEN_FROM_OHM = 1.5e6
# An open three-wire signal pin in order reads within 0.15 V of where its input pulls it (published service figures).
OPEN_PIN_SD = 0.075
# A sensor with an output stage floats on an open return: what its signal still draws leaves some hundredths of a volt across it.
TO_RETURN, FLOATING_SD, FLOATS_FROM_OHM = ("volts-return", "supply-return"), 0.05, 1e5
STUCK_SD = 0.8
PEGGED_WITHIN = 6.0
# An intermittent fault shows itself in about a quarter of the readings.
SHOWS_ITSELF = 0.25
# A stand-in that moved after it was set is off by about this much (standard deviation of ln ohm); what shows with the
# key off is nothing, and only by mistake a number.
MOVED_LN_SD = 0.4
KEY_OFF_NUMBER, KEY_OFF_NOTHING, NOTHING_OTHERWISE = 0.05, 0.9, 0.02
# Arrays of about this many numbers stay in the processor's near memory.
CHUNK = 48_000
FEWEST_TOGETHER = 24
# What a meter reads on the plug: it jumps where a module switches its pull-up.
METERED = ("volts-return", "volts-battery", "current")


class Evidence:
    """Everything typed about one job, ready to be weighed against samples of the model's rows.

    `readings` are in canonical order; those in `void` (indices) are not weighed.
    """

    def __init__(self, model: Model, readings: tuple[Reading, ...]) -> None:
        self.model, self.readings = model, readings
        self.scale = model.setup.quantity
        kinds = {t.id: t for t in model.setup.tests}
        self.tests: tuple[TestKind, ...] = tuple(kinds[r.test] for r in readings)
        self.void = frozenset(v.reading for v in void_readings(readings))
        self.signs = model.setup.signs
        self.terms = tuple(t for i, r in enumerate(readings) if i not in self.void for t in terms_of(i, r, self.tests[i], model.setup))
        whole = everything(model, readings, self.tests)
        self.hooked = hooked(model, readings, self.tests, self.terms, whole)
        # Rows are weighed in parts as large as if all hook-ups were kept: which rows share a part moves last digits.
        self.active, self.together = self._active(whole), len(whole)
        self.default, self.default_share = own_number(self.terms, self.tests, model.setup.circuit.default_c, self.scale)
        self.found = next((i for i, r in enumerate(readings) if r.test == "as-found"), None)

    @cached_property
    def stood(self) -> dict[Term, int]:
        """How often each shown number stood there."""
        return {t: stood(t, self.terms, self.scale) for t in self.terms if t.kind == "shows"}

    def _active(self, whole: Hookup) -> np.ndarray:
        """Indices of the unknowns that any of the `whole` of hook-ups or any reading here depends on."""
        idle = set() if not np.isnan(whole.at_c).all() else {Z["thermometer"]}
        # Through a wire lying hard on the chassis its few millivolts are all that drives an ammeter.
        grounded = (whole.chassis.any() or self.model.setup.case_grounded or self.model.setup.three_wire is not None
                    or any(t.measures == "current" for t in self.tests))
        if not grounded:
            idle.add(Z["ground"])
        return np.array([k for k in self.model.active if k not in idle])

    def shown(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray, steady: bool = False,
              hook: Hookup | None = None, state: CircuitState | None = None) -> Shown:
        """What every reading (or every hook-up of `hook`) would show for samples (share, z) of `rows`; `steady` with
        what comes and goes in order, or in a `state` of the caller's."""
        model, around = self.model, self.model.around(rows)
        share, z = single(share), single(z)
        if state is None:
            state = model.state(share, z, rows)
        if steady:
            state = in_order(state, around.rows.intermittent[:, None])
        shown = predict(self.hooked.hook if hook is None else hook, around, state, model.unknowns(z), share.shape)
        early = around.rows.having("too-soon")
        if len(early) and (hook is None or hook is self.hooked.numeric):
            # Read before the number had settled: part of the way from what stood there.
            for place in self.hooked.late:
                if place < len(shown.value):
                    before = shown.value[self.hooked.plugged, early]
                    shown.value[place, early] = before + state.late_share[early] * (shown.value[place, early] - before)
        return shown

    def spread(self, shown: Shown, r: int, rows: Rows, dialled: bool) -> np.ndarray:
        """Standard deviation (f, s) of live data about `shown.value[r]`: converter, table, setting, rest."""
        circuit, scale = self.model.setup.circuit, self.scale
        slope, value = shown.slope[r], shown.value[r]
        step = converter_step(shown.share[r], slope, circuit.open_v or 5.0, circuit.short_v or 0.0, circuit.bits)
        variance = np.square(step) / 12.0
        variance += scale.reading_sd**2
        low, high = self.model.ranges[rows.curve].T[:, :, None].astype(value.dtype)
        beyond = np.maximum(np.maximum(low - value, value - high), 0.0)
        variance += np.square(TABLE_SD_PER_K * beyond)
        if dialled:
            variance += np.square(self.model.setup.meter.ohm_percent / 100.0 / 3.0**0.5 * slope)
            moved = rows.having("stand-in-moved")
            variance[moved] += np.square(MOVED_LN_SD * slope[moved])
        return np.sqrt(variance)

    def numbers(self, shown: Shown, term: Term, rows: Rows) -> tuple[np.ndarray, np.ndarray, object]:
        """Predicted value, its standard deviation and the typed value of one term, each broadcasting over (f, s)."""
        r, meter = self.hooked.place.get(term.reading), self.model.setup.meter
        if term.kind == "shows":
            spread = np.hypot(self.spread(shown, r, rows, bool(self.hooked.hook.dialled[r])), term.width)
            typed = np.full((len(rows.kinds), 1), term.value, np.float32)
            typed[rows.having("unit-mistaken")] = term.other
            return shown.value[r], spread, typed
        if term.kind == "return-ohms":
            return np.log1p(shown.return_ohm), math.hypot(0.012, OHM_FLOOR / (term.value + 1.0)), math.log1p(term.value)
        if term.kind == "sensor-ohms":
            known = meter.ohm_band(term.value) / max(term.value, 1.0) / 2
            own, typed = np.log(shown.sensor_at(r) + OHM_FLOOR), math.log(term.value + OHM_FLOOR)
            mistaken = rows.having("kilohm-mistaken")
            if len(mistaken):
                # One who types ohm for kilohm on the stand-in may do so here too, or not.
                typed, other = np.full(own.shape, typed, own.dtype), math.log(term.value * 1000.0 + OHM_FLOOR)
                typed[mistaken] = np.where(own[mistaken] > (typed[mistaken] + other) / 2, other, typed[mistaken])
            return own, math.hypot(known, OHM_FLOOR / (term.value + 1.0)), typed
        if term.kind == "current":
            return (np.arcsinh(shown.to_return_v[r] / float(self.hooked.hook.element_ohm[r]) * 1e3 / MA_FLOOR), 0.03,
                    math.asinh(term.value / MA_FLOOR))
        if term.kind == "at":
            return shown.true_value, AT_SD, term.value
        test = self.tests[term.reading]
        open_pin = test.element == "open" and test.pins == 3 and term.kind.startswith("volts")
        spread = math.hypot(meter.volt_band(term.value) / 2, OPEN_PIN_SD if open_pin else 0.015)
        if term.kind in TO_RETURN and test.element == "sensor" and self.model.setup.three_wire and self.model.setup.three_wire.active:
            spread = np.hypot(spread, FLOATING_SD * shown.return_ohm / (shown.return_ohm + FLOATS_FROM_OHM))
        return shown.volts(term.kind, r), spread, term.value

    def off(self, shown: Shown, term: Term, rows: Rows) -> tuple[np.ndarray, np.ndarray]:
        """How far the predicted value of one term is off the typed one, and its standard deviation, each broadcasting over
        (f, s); of a shown whole number the middle and the breadth of what it stands for."""
        value, spread, typed = self.numbers(shown, term, rows)
        if term.kind != "shows":
            return value - typed, spread
        value = held(value, self.scale.lowest, self.scale.highest)
        return value - (typed + WHOLE_MIDDLE * self.scale.whole), np.hypot(spread, WHOLE_SD * self.scale.whole)

    def weigh(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """Log likelihood (f, s) of readings and signs together, for samples of `rows` (n,), ascending."""
        out = np.zeros(share.shape)
        if not self.readings and not self.signs:
            return out
        size = max(1, CHUNK // (self.together * share.shape[1]))
        for start in range(0, len(rows), size):
            part = slice(start, start + size)
            each, signs, _ = self._chances(share[part], z[part], rows[part])
            total = signs.astype(float)
            for i, chance in enumerate(each):
                total = total * chance
                if i % FEWEST_TOGETHER == FEWEST_TOGETHER - 1:
                    out[part] += np.log(np.maximum(total, 1e-300))
                    total = 1.0
            out[part] += np.log(np.maximum(total, 1e-300))
        return out

    def by_reading(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Log likelihood (r, f, s) of each reading, and the chance (r, f, s) that it is a slip."""
        if not self.readings:
            return np.zeros((0, *share.shape)), np.zeros((0, *share.shape))
        each, _, slip = self._chances(share, z, rows)
        return np.log(np.stack(each)), slip

    def _chances(self, share: np.ndarray, z: np.ndarray,
                 index: np.ndarray) -> tuple[list[np.ndarray], np.ndarray, np.ndarray]:
        """Chance (f, s) of each reading, of the signs together, and of slips (r, f, s)."""
        rows = self.model.pick(index)
        share, z = single(share), single(z)
        shown = self.shown(share, z, index)
        each, slip = self._densities(shown, share, rows)
        comes = rows.intermittent
        signs = self._signs(shown, rows) if self.signs else np.ones(share.shape, share.dtype)
        if len(comes) and self.readings:
            inside = index[comes]
            healthy = self.shown(share[comes], z[comes], inside, steady=True)
            still, still_slip = self._densities(healthy, share[comes], self.model.pick(inside))
            jumping = jumps(self.tests, self.readings, rows)
            for i in range(len(each)):
                each[i][comes] = ((1.0 - SHOWS_ITSELF) * still[i] + SHOWS_ITSELF * each[i][comes]
                                  + jumping[i][:, None])
            slip[:, comes] = np.minimum(slip[:, comes], still_slip)
        return each, signs, slip

    def _signs(self, shown: Shown, rows: Rows) -> np.ndarray:
        value, share = shown.value[-2:], shown.share[-2:]
        return sign_likelihood(self.signs, rows.kinds, value, self._outside(share), share > 0.5, self.scale)

    def _outside(self, share: np.ndarray) -> np.ndarray:
        circuit = self.model.setup.circuit
        return outside_limits(share, circuit.open_v or 5.0, circuit.short_v or 0.0, circuit.low_limit_v,
                              circuit.high_limit_v)

    def _densities(self, shown: Shown, share: np.ndarray, rows: Rows) -> tuple[list[np.ndarray], np.ndarray]:
        each = [np.ones(share.shape, share.dtype) for _ in self.readings]
        slip = np.zeros((len(self.readings), *share.shape), share.dtype)
        for term in self.terms:
            i = term.reading
            other: object = 0.0
            if term.kind == "shows":
                (fit, other), span = self._shown_fit(shown, term, share, rows), self.scale.span
            else:
                fit = self._measured_fit(shown, term, rows)
                if term.kind.endswith("ohms"):
                    other = sum(self._measured_fit(shown, term._replace(value=term.value * off), rows)
                                for off in (1e3, 1e-3)) / 2.0
                if term.kind == "at":
                    # A thermometer at the part tells its temperature in the vehicle too, unless it was heated on the bench.
                    each[i] *= 0.5 * fit + 0.5 / self.scale.span
                    continue
                span = {"volts-return": VOLT_SPAN, "volts-battery": VOLT_SPAN, "current": LN_MA_SPAN}.get(term.kind, LN_OHM_SPAN)
                if term.kind == "volts-return" and self.tests[i].measures == "shows":
                    # Back-probing while a stand-in is on has its own slips; the number shown carries the test.
                    span = VOLT_SPAN / 3
            slipped = SLIP / span + UNIT_SLIP * other
            robust = (1.0 - SLIP - UNIT_SLIP) * fit
            robust += slipped
            each[i] *= robust
            slip[i] = np.maximum(slip[i], slipped / robust)
        for i, reading in enumerate(self.readings):
            if i not in self.void:
                self._words(i, reading, shown, rows, share, each, slip)
        return each, slip

    def _shown_fit(self, shown: Shown, term: Term, share: np.ndarray, rows: Rows) -> np.ndarray:
        """Densities (2, f, s) of a shown number as typed and in the other unit, on both pull-ups of a module that switches."""
        fit = self._on_branch(shown, term, rows)
        if shown.branch is not None:
            warm = shown.branch[self.hooked.place[term.reading]]
            fit = (1.0 - warm) * fit + warm * self._on_branch(shown.other, term, rows)
        stuck, off = rows.having("reading-frozen"), rows.having("key-off")
        if len(stuck):
            # A needle is read no better where it is stuck.
            sd = math.hypot(0.5 * self.scale.reading_sd, term.width) if self.model.setup.circuit.pointer else STUCK_SD
            for k, typed in enumerate((term.value, term.other)):
                fit[k, stuck] = exp(-0.5 * np.square((typed - rows.stuck_at(share)) / sd)) / (ROOT_TWO_PI * sd)
        fit[0, off] = KEY_OFF_NUMBER / self.scale.span
        if term.other == term.value:
            fit[1] = 0.0
        return fit

    def _measured_fit(self, shown: Shown, term: Term, rows: Rows) -> np.ndarray:
        """Density (f, s) of a measured value, on both pull-ups of a module that switches."""
        value, spread, typed = self.numbers(shown, term, rows)
        fit = exp(-0.5 * np.square((typed - value) / spread)) / (ROOT_TWO_PI * spread)
        if shown.branch is None or term.kind not in METERED:
            return fit
        warm = shown.branch[self.hooked.place[term.reading]]
        return (1.0 - warm) * fit + warm * self._measured_fit(shown.other, term, rows)

    def _on_branch(self, shown: Shown, term: Term, rows: Rows) -> np.ndarray:
        r = self.hooked.place[term.reading]
        value, outside = shown.value[r], self._outside(shown.share[r])
        spread = self.spread(shown, r, rows, bool(self.hooked.hook.dialled[r]))
        if term.width:
            spread = np.hypot(spread, term.width)
        latched, count = self.model.setup.circuit.latched, self.stood[term]

        def density(typed: float, which: object) -> np.ndarray:
            fit = shown_density(typed, value[which], spread[which], outside[which], self.default, self.default_share,
                                self.scale, latched, count)
            if self.tests[term.reading].measures == "sweep":
                # A hand may stop short of the end of the track.
                past = ndtr((typed - value[which]) / spread[which])
                fit = (1.0 - SHORT_OF_END) * fit + SHORT_OF_END * past / STOPS_WITHIN
            return fit

        fit = np.stack([density(term.value, slice(None)), density(term.other, slice(None))])
        mistaken = rows.having("unit-mistaken")
        fit[:, mistaken] = fit[::-1, mistaken]
        return fit

    def _words(self, i: int, reading: Reading, shown: Shown, rows: Rows, share: np.ndarray, each: list[np.ndarray],
               slip: np.ndarray) -> None:
        """Multiplies in what is no number: words, open, good or bad, and whether a sweep moved; a word has its slips too."""
        test, scale = self.tests[i], self.scale
        still = rows.having("reading-frozen", "key-off")
        if reading.word in ("maximum", "minimum"):
            value = shown.value[self.hooked.place[i]]
            past = value - scale.high_ends_from if reading.word == "maximum" else scale.low_ends_from - value
            chance = SLIP + 0.95 * ndtr(past / 2.0)
            chance[still] = 0.02
            stuck = rows.having("reading-frozen")
            if self.model.setup.circuit.pointer and len(stuck):
                # A dead needle may well lie at or beyond one of its ends.
                at = rows.stuck_at(share)
                at_end = at - scale.high_end if reading.word == "maximum" else scale.low_end - at
                chance[stuck] = 0.02 + 0.9 * (at_end > -PEGGED_WITHIN)
            each[i] *= chance
            slip[i] = np.maximum(slip[i], SLIP / chance)
        elif reading.shows in ("jumps", "drifts"):
            each[i] *= unsteady(test, rows)[:, None]
        elif reading.shows == "not-available":
            chance = np.full((len(rows.kinds), 1), NOTHING_OTHERWISE)
            chance[rows.having("key-off")] = KEY_OFF_NOTHING
            each[i] *= chance
        if reading.shows == "did-not-move" or (test.measures == "sweep" and reading.shows not in (None, "not-available")):
            chance = 0.02 + 0.96 * self._moved(i, shown)
            chance[still] = 0.01
            chance = 1.0 - chance if reading.shows == "did-not-move" else chance
            each[i] *= chance
            slip[i] = np.maximum(slip[i], SLIP / chance)
        if reading.ohms == "open":
            ohm = shown.sensor_at(self.hooked.place[i]) if test.measures == "sensor-ohms" else shown.return_ohm
            chance = 0.002 + 0.99 * ndtr(np.log(ohm / OPEN_FROM_OHM) / 0.4)
            each[i] *= chance
            slip[i] = np.maximum(slip[i], 0.002 / chance)
        if reading.good is not None:
            each[i] *= bad_chance(test, rows, not reading.good)[:, None]

    def _moved(self, i: int, shown: Shown) -> np.ndarray:
        """Chance (f, s) that the number moved between what was there before and what is there now."""
        low, high = self.scale.low_end, min(self.scale.high_end, self.scale.high_ends_from + 33.0)
        before = self.hooked.low_end.get(i, None if self.found in (None, i) else self.hooked.place[self.found])
        if before is None:
            return np.full(shown.value.shape[1:], 0.5)
        change = np.abs(np.clip(shown.value[self.hooked.place[i]], low, high) - np.clip(shown.value[before], low, high))
        return ndtr((change - self.scale.moves_from) / (0.6 * self.scale.moves_from))
