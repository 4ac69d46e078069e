"""Owns what one sample of one row shows on a job's hook-ups, and the same for whole batches: two wires or three."""

from typing import NamedTuple

import numpy as np

from engine.behind import put_quantities
from engine.block import B, HOOK, OF3_AT, OF_AT, POINT, SEEN, STATE, Z_AT, block_of, lanes
from engine.circuit_state import HEALTHY
from engine.compiled import called, compiled, inlined
from engine.curve_table import Table
from engine.grades import mend, put
from engine.packed import OF, pack_hooks
from engine.procedures import Hookup
from engine.seen import BETWEEN, BRANCH, LEAD_OHM, OTHER, OWN, RETURN_OHM, RETURN_TO_BATTERY, SHARE, SLOPE, SWITCHED, TRUE, VALUE, WIDTH
from engine.three_wire import OF3, predict_three_wire
from engine.two_wire import predict_two_wire
from engine.unknowns import Z_NAMES

OFS = max(len(OF), len(OF3))
# On a module that switches: on the pull-up that is likelier.
ON_LIKELIER = 0.5
NOWHERE = -1


class Circuit(NamedTuple):
    """All of a job that stays the same over its readings, for compiled loops: one JOB, its curves, its ROWs."""

    job: np.ndarray
    table: Table
    rows: np.ndarray


class Hooks(NamedTuple):
    """Hook-ups for compiled loops: HOOKs (r,), masks (r,) of all of them and of those with the sensor on; where a number may
    have been read on its way, those it may be on its way to `late` (l,), and `plugged`, from where (-1 where there are none)."""

    hooks: np.ndarray
    all: np.ndarray
    with_sensor: np.ndarray
    late: np.ndarray
    plugged: int


class Shown(NamedTuple):
    """What hook-ups show: `seen` (w, r, f, s), a column of `engine.seen` each."""

    seen: np.ndarray

    @property
    def value(self) -> np.ndarray:
        """What live data would show (r, f, s) before ends, limits and default [degC or percent]."""
        return self.seen[VALUE]

    @property
    def share(self) -> np.ndarray:
        """Pin volts (r, f, s) over the converter's own reference, 0..1."""
        return self.seen[SHARE]

    @property
    def slope(self) -> np.ndarray:
        """Slope (r, f, s) of the value against ln ohm."""
        return self.seen[SLOPE]

    @property
    def return_ohm(self) -> np.ndarray:
        """Ohms (f, s) of the return, as a meter has them."""
        return self.seen[RETURN_OHM, 0]

    @property
    def true_value(self) -> np.ndarray:
        """The quantity as found (f, s)."""
        return self.seen[TRUE, 0]

    def sensor_at(self, r: int) -> np.ndarray:
        """The sensor's own ohms (f, s) in reading r."""
        return self.seen[OWN, r]

    def volts(self, between: str, r: int) -> np.ndarray:
        """Volts (f, s) of reading r `between` the points of a term kind such as volts-return."""
        return self.seen[BETWEEN[between], r]


def hooks_of(hook: Hookup, late: tuple[int, ...] = (), plugged: int = NOWHERE) -> Hooks:
    """`hook` for compiled loops; see Hooks."""
    return Hooks(pack_hooks(hook), np.ones(len(hook), bool), np.array(hook.sensor, bool), np.array(late, int), plugged)


def shown_on(circuit: Circuit, hook: Hookup, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> Shown:
    """What hook-ups by themselves show of `rows` (f,) at severities `share` (f, s) and unknowns `z` (f, s, z)."""
    hooks = hooks_of(hook)
    return Shown(shown_all(circuit, hooks, rows, share, z, np.zeros(share.shape, bool), np.full(share.shape, ON_LIKELIER)))


class Room(NamedTuple):
    """Room for a block of samples: the block, and one three-wire circuit's state, quantities and what is seen of it."""

    block: np.ndarray
    state: np.ndarray
    of: np.ndarray
    seen: np.ndarray


def room_for(hooks: Hooks) -> Room:
    """Room for samples on `hooks`."""
    return Room(block_of(len(hooks.hooks)), HEALTHY.copy(), np.zeros(OFS, np.float32), np.zeros((len(hooks.hooks), WIDTH), np.float32))


@inlined
def put_samples(share: np.ndarray, z: np.ndarray, dims: np.ndarray, start: int, n: int, w: np.ndarray) -> None:
    """Puts share (s,) and unknowns `dims` (a,) at z (s, a) from number `start` on into the first `n` samples of block `w`, the last one into
    those that fill up the lanes; others stay as they are."""
    for s in range(n):
        w[POINT.share + s] = share[start + s]
    for s in range(n, lanes(n)):
        w[POINT.share + s] = share[start + n - 1]
    for a in range(len(dims)):
        column = w[Z_AT[0] + dims[a] * B:Z_AT[0] + dims[a] * B + B]
        for s in range(n):
            column[s] = z[start + s, a]
        for s in range(n, lanes(n)):
            column[s] = z[start + n - 1, a]


@called
def put_seen(circuit: Circuit, row: object, hooks: Hooks, asked: np.ndarray, healthy: bool, room: Room, n: int) -> None:
    """Puts into the block what those of `hooks` that are `asked` for (r,) show of `row` for its first `n` samples, of circuits in
    order where they are `healthy`; the quantities behind the unknowns are there."""
    job, w = circuit.job[0], room.block
    if not healthy:
        put(row, w, n)
    if job.two_wires:
        predict_two_wire(job, circuit.table, row, hooks.hooks, asked, w, n)
    else:
        _three_wires(job, row, hooks, asked, room, n)
    for s in range(n):
        w[SEEN + RETURN_OHM * B + s] = w[STATE.return_ohm + s] + w[STATE.module_return_ohm + s] + LEAD_OHM
        if job.two_wires:
            w[SEEN + TRUE * B + s] = w[OF_AT.true_value + s] + w[STATE.true_offset + s]
        else:
            w[SEEN + TRUE * B + s] = row.rest + row.rest_sd * w[OF3_AT.true_z + s] + w[STATE.true_offset + s]
    if row.too_soon and hooks.plugged >= 0:
        # Read before the number had settled: part of the way from what stood there.
        plugged = SEEN + hooks.plugged * HOOK + VALUE * B
        for r in hooks.late:
            late = SEEN + r * HOOK + VALUE * B
            for s in range(n):
                w[late + s] = w[plugged + s] + w[STATE.late_share + s] * (w[late + s] - w[plugged + s])
    if not healthy:
        mend(row, w)


@inlined
def _three_wires(job: object, row: object, hooks: Hooks, asked: np.ndarray, room: Room, n: int) -> None:
    """As `put_seen`, one circuit of three wires after the other."""
    w = room.block
    for s in range(n):
        for q in range(len(room.state)):
            room.state[q] = w[STATE[0] + q * B + s]
        for q in range(len(room.of)):
            room.of[q] = w[OF_AT[0] + q * B + s]
        predict_three_wire(job, row, hooks.hooks, asked, room.state, room.of, room.seen)
        for r in range(len(hooks.hooks)):
            if asked[r]:
                for column in range(WIDTH):
                    w[SEEN + r * HOOK + column * B + s] = room.seen[r, column]


@inlined
def on_one(job: object, hooks: Hooks, w: np.ndarray, above: float, n: int) -> None:
    """Puts what hook-ups show on one pull-up in front: the second where its chance is `above`."""
    if job.switches:
        for r in range(len(hooks.hooks)):
            seen = SEEN + r * HOOK
            for s in range(n):
                if w[seen + BRANCH * B + s] > above:
                    for column in range(SWITCHED):
                        w[seen + column * B + s] = w[seen + (OTHER + column) * B + s]


@compiled
def _show(circuit: Circuit, hooks: Hooks, room: Room, rows: np.ndarray, share: np.ndarray, z: np.ndarray, healthy: np.ndarray,
          above: np.ndarray, out: np.ndarray) -> None:
    """Puts what `hooks` show (w, r, f, s) of `rows` (f,) into `out`; see `shown_all`."""
    job, w, every = circuit.job[0], room.block, np.arange(len(Z_NAMES))
    for f in range(len(rows)):
        row = circuit.rows[rows[f]]
        for start in range(0, share.shape[1], B):
            n = min(B, share.shape[1] - start)
            put_samples(share[f], z[f], every, start, n, w)
            put_quantities(job, w, lanes(n))
            some, all_so = False, True
            for s in range(n):
                w[POINT.healthy + s] = 1.0 if healthy[f, start + s] else 0.0
                some, all_so = some or healthy[f, start + s], all_so and healthy[f, start + s]
            for mended in range(1 if all_so else 0, 2 if some else 1):
                put_seen(circuit, row, hooks, hooks.all, mended == 1, room, lanes(n))
                _take(job, hooks, w, out, f, start, n, mended == 1)
            _choose(job, hooks, out, f, start, n, above)


@inlined
def _take(job: object, hooks: Hooks, w: np.ndarray, out: np.ndarray, f: int, start: int, n: int, healthy: bool) -> None:
    """Puts what the block shows into `out`: of all samples, or of those alone that are to be `healthy`; what no hook-up of its kind
    shows is left out."""
    for r in range(out.shape[1]):
        for column in range(WIDTH):
            if r < len(hooks.hooks):
                hook = hooks.hooks[r]
                shows = (column <= SHARE or (column <= RETURN_TO_BATTERY and hook.meter) or (column == OWN and hook.sensor)
                         or (column >= BRANCH and column != TRUE and job.switches))
            else:
                shows = False
            if shows or (r == 0 and (column == RETURN_OHM or column == TRUE)):
                seen = w[SEEN + r * HOOK + column * B:SEEN + r * HOOK + column * B + B]
                into = out[column, r, f, start:start + n]
                for s in range(n):
                    if not healthy or w[POINT.healthy + s] != 0.0:
                        into[s] = seen[s]


@inlined
def _choose(job: object, hooks: Hooks, out: np.ndarray, f: int, start: int, n: int, above: np.ndarray) -> None:
    """Puts what is shown on the second pull-up in front where its chance is `above` (f, s)."""
    if job.switches:
        for r in range(len(hooks.hooks)):
            for s in range(start, start + n):
                if out[BRANCH, r, f, s] > above[f, s]:
                    for column in range(SWITCHED):
                        out[column, r, f, s] = out[OTHER + column, r, f, s]


def shown_all(circuit: Circuit, hooks: Hooks, rows: np.ndarray, share: np.ndarray, z: np.ndarray, healthy: np.ndarray,
              above: np.ndarray) -> np.ndarray:
    """What `hooks` show (w, r, f, s) of `rows` (f,) at `share` (f, s) and `z` (f, s, z), on one pull-up: the second where its
    chance is `above` (f, s); of a circuit in order where it is `healthy` (f, s)."""
    out = np.empty((WIDTH, max(len(hooks.hooks), 1), *share.shape))
    _show(circuit, hooks, room_for(hooks), rows, share, z, healthy, above, out)
    return out
