"""Owns how well readings fit a row: all that was typed, weighed against samples of the model's rows."""

from functools import cached_property
from typing import NamedTuple

import numpy as np

from engine.behind import put_quantities
from engine.block import B, ROOM, lanes
from engine.by_hand import jumps
from engine.chances import reading_chances
from engine.compiled import called, log_of
from engine.hooked import everything, hooked
from engine.items import Items, pack_items
from engine.model import Model
from engine.points import NOWHERE, ON_LIKELIER, Circuit, Hooks, Room, Shown, hooks_of, put_samples, put_seen, room_for, shown_all
from engine.procedures import Hookup, TestKind
from engine.readings import Reading
from engine.signs import Signs, pack_signs, put_signs
from engine.slopes import Numbers
from engine.terms import Term, own_number, stood, terms_of
from engine.unknowns import Z, Z_NAMES
from engine.void import void_readings

# An intermittent fault shows itself in about a quarter of the readings.
SHOWS_ITSELF = 0.25
# All unknowns.
EVERY = np.arange(len(Z_NAMES))
# So many readings' chances are multiplied before their log is taken, and what that is held above.
TOGETHER, LEAST_CHANCE = 2, 1e-37


class AllTyped(NamedTuple):
    """All that was typed, for compiled loops: every hook-up, the items, the complaint's signs and where their hook-ups begin,
    and how likely (i, f) each reading jumps by what comes and goes."""

    hooks: Hooks
    items: Items
    signs: Signs
    signs_from: int
    jumping: np.ndarray


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
        self.active = self._active(whole)
        self.default, self.default_share = own_number(self.terms, self.tests, model.setup.circuit.default_c, self.scale)
        self.found = next((i for i, r in enumerate(readings) if r.test == "as-found"), None)

    @cached_property
    def stood(self) -> dict[Term, int]:
        """How often each shown number stood there."""
        return {t: stood(t, self.terms, self.scale) for t in self.terms if t.kind == "shows"}

    @cached_property
    def stuck(self) -> tuple[np.ndarray, np.ndarray]:
        """The rows (n,) whose number is stuck, and at what share (n, t) of its range each would have to be to show what was typed."""
        rows, values = self.model.pick(np.arange(len(self.model))), list(dict.fromkeys(t.value for t in self.terms if t.kind == "shows"))
        frozen = rows.having("reading-frozen")
        of_kind = {rows.kinds[k].id: [rows.stuck_share(k, value) for value in values] for k in frozen}
        return frozen, np.array([of_kind[rows.kinds[k].id] for k in frozen]).reshape(len(frozen), len(values))

    @cached_property
    def typed(self) -> AllTyped:
        """All of it for compiled loops."""
        rows = self.model.pick(np.arange(len(self.model)))
        jumping = np.zeros((len(self.readings), len(self.model)))
        jumping[:, rows.intermittent] = jumps(self.tests, self.readings, rows)
        return AllTyped(self.hooks(self.hooked.hook), pack_items(self), pack_signs(self.signs, self.model.kinds),
                     max(len(self.hooked.hook) - 2, 0), jumping)

    @cached_property
    def numeric(self) -> Hooks:
        """The hook-ups that numbers hang on, for compiled loops."""
        return self.hooks(self.hooked.numeric)

    def hooks(self, hook: Hookup) -> Hooks:
        """`hook`, the readings' own hook-ups, those in front of them or any other, for compiled loops."""
        own = hook is self.hooked.hook or hook is self.hooked.numeric
        late = [place for place in self.hooked.late if place < len(hook)] if own else []
        return hooks_of(hook, tuple(late), NOWHERE if self.hooked.plugged is None or not own else self.hooked.plugged)

    def _active(self, whole: Hookup) -> np.ndarray:
        """Indices of the unknowns that any of the `whole` of hook-ups or any reading here depends on."""
        idle = set() if not np.isnan(whole.at_c).all() else {Z.thermometer}
        # Through a wire lying hard on the chassis its few millivolts are all that drives an ammeter.
        grounded = (whole.chassis.any() or self.model.setup.case_grounded or self.model.setup.three_wire is not None
                    or any(t.measures == "current" for t in self.tests))
        if not grounded:
            idle.add(Z.ground)
        return np.array([k for k in self.model.active if k not in idle])

    def shown(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray, healthy: np.ndarray | bool = False,
              hook: Hookup | None = None, above: np.ndarray | float = ON_LIKELIER) -> Shown:
        """What every reading (or every hook-up of `hook`) would show for samples (share, z) of `rows`, where `healthy` (f, s) of a
        circuit in order, whether the row comes and goes or not; of a module that switches its pull-up on the second where the chance of that is `above` (f, s)."""
        hooks = self.typed.hooks if hook is None else self.hooks(hook)
        return Shown(shown_all(self.model.circuit, hooks, rows, np.ascontiguousarray(share, float), np.ascontiguousarray(z, float),
                               np.array(np.broadcast_to(healthy, share.shape)), np.array(np.broadcast_to(above, share.shape), float)))

    def weigh(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray, dims: np.ndarray = EVERY) -> np.ndarray:
        """Log likelihood (f, s) of readings and signs together, for samples of `rows` (n,), ascending, of all unknowns at `z` (f, s, z) or of
        some, `dims` (a,) at (f, s, a), the others at their mean."""
        out = np.zeros(share.shape)
        if self.readings or self.signs:
            nothing = np.zeros((0, *share.shape))
            _weigh(self.model.circuit, self.typed, weighing_for(self.typed), rows, np.ascontiguousarray(share), np.ascontiguousarray(z), dims, out,
                   nothing, nothing)
        return out

    def by_reading(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Log likelihood (r, f, s) of each reading, and the chance (r, f, s) that it is a slip."""
        each, slip = (np.zeros((len(self.readings), *share.shape)) for _ in range(2))
        if self.readings:
            _weigh(self.model.circuit, self.typed, weighing_for(self.typed), rows, np.ascontiguousarray(share), np.ascontiguousarray(z), EVERY,
                   np.zeros(share.shape), each, slip)
        return np.log(np.maximum(each, 1e-300)), slip


def numbers_of(evidence: Evidence, dims: np.ndarray) -> Numbers:
    """What numbers of `evidence` hang on, the unknowns `dims` (a,) free to move."""
    return Numbers(evidence.model.circuit, evidence.numeric, evidence.typed.items, dims)


class Weighing(NamedTuple):
    """Room for a block's weighing: the block, chances (i B,) of readings and of slips, the same of circuits in order, and the log
    (B,) of the likelihood."""

    room: Room
    each: np.ndarray
    slip: np.ndarray
    still: np.ndarray
    still_slip: np.ndarray
    ln: np.ndarray


def weighing_for(typed: AllTyped) -> Weighing:
    """Room to weigh what was `typed`."""
    return Weighing(room_for(typed.hooks), *(np.zeros(max(typed.items.readings, 1) * B, np.float32) for _ in range(4)), np.zeros(B, np.float32))


@called
def put_fit(circuit: Circuit, typed: AllTyped, at: int, put_in: Weighing, slips: bool, n: int) -> None:
    """Puts chances of the readings of the model's row `at` for the block's first `n` samples into `put_in`, those of `slips` where they
    are asked for, and the log of the likelihood of readings and signs together."""
    job, row, w = circuit.job[0], circuit.rows[at], put_in.room.block
    put_quantities(job, w, n)
    for healthy in range(1 if row.comes and typed.items.readings > 0 else 0, -1, -1):
        put_seen(circuit, row, typed.hooks, typed.hooks.all, healthy == 1, put_in.room, n)
        reading_chances(job, typed.items, row, at, w, put_in.each, put_in.slip, slips, n)
        for s in range(typed.items.readings * B):
            if healthy == 1:
                put_in.still[s], put_in.still_slip[s] = put_in.each[s], put_in.slip[s]
            elif row.comes:
                put_in.each[s] = (1.0 - SHOWS_ITSELF) * put_in.still[s] + SHOWS_ITSELF * put_in.each[s] + typed.jumping[s // B, at]
                put_in.slip[s] = min(put_in.slip[s], put_in.still_slip[s])
    put_signs(job, typed.signs, at, typed.signs_from, w, n)
    for s in range(n):
        put_in.ln[s] = 0.0
    for i in range(typed.items.readings + 1):
        if i % TOGETHER == TOGETHER - 1 or i == typed.items.readings:
            for s in range(n):
                put_in.ln[s] += log_of(max(w[ROOM.two + s], LEAST_CHANCE))
                w[ROOM.two + s] = 1.0
        if i < typed.items.readings:
            for s in range(n):
                w[ROOM.two + s] *= put_in.each[i * B + s]


@called
def _weigh(circuit: Circuit, typed: AllTyped, put_in: Weighing, rows: np.ndarray, share: np.ndarray, z: np.ndarray, dims: np.ndarray,
           out: np.ndarray, each: np.ndarray, slip: np.ndarray) -> None:
    """Puts log likelihoods of samples (f, s) into `out`, and where there is room the chance of each reading and of its being a slip
    into `each` and `slip` (i, f, s)."""
    for f in range(len(rows)):
        for start in range(0, share.shape[1], B):
            n = min(B, share.shape[1] - start)
            put_samples(share[f], z[f], dims, start, n, put_in.room.block)
            put_fit(circuit, typed, rows[f], put_in, len(each) > 0, lanes(n))
            for i in range(len(each)):
                for s in range(n):
                    each[i, f, start + s], slip[i, f, start + s] = put_in.each[i * B + s], put_in.slip[i * B + s]
            for s in range(n):
                out[f, start + s] = put_in.ln[s]
