"""Owns a job: one fault-finding at one vehicle, immutable; recording a reading gives a new job."""

from dataclasses import dataclass, replace
from functools import cached_property

from engine.advice import Advice, advise
from engine.belief import Belief, believe
from engine.circuit import InputCircuit
from engine.curves import beta_curve
from engine.errors import InputError
from engine.model import Model, Setup
from engine.readings import Reading, check_reading
from engine.stand_in import Meter, StandIn
from engine.three_wire_model import model_of
from engine.verdict import Verdict, judge

MOST_READINGS = 200
# 5 % and 95 % points closer than this are worth building on.
NARROW = 1.25
# A three-wire input is known to be pulled one way from this chance on.
PULL_SURE = 0.97


@dataclass(frozen=True)
class Job:
    """A sensor kind, what is known of its circuit (`setup`), the complaint, and the readings so far.

    `case` is the case file's head as plain JSON values, without readings; it
    is kept as typed. `knowledge` is the version the job is worked under.
    """

    sensor: str
    complaint: tuple[str, ...]
    setup: Setup
    case: dict
    knowledge: str
    readings: tuple[Reading, ...] = ()

    @property
    def circuit(self) -> InputCircuit:
        """The module's input as far as it is known."""
        return self.setup.circuit

    @property
    def stand_in(self) -> StandIn:
        """What is put in the sensor's place."""
        return self.setup.stand_in

    @property
    def meter(self) -> Meter:
        """The hand meter's class."""
        return self.setup.meter

    @property
    def surroundings_c(self) -> float | None:
        """Temperature [degC] of the cold vehicle's surroundings."""
        return self.setup.surroundings_c

    @property
    def curves(self) -> tuple:
        """Candidate curves with their weights; not the shapes that stand for families nobody listed."""
        return tuple(pair for pair in self.setup.curves if not pair[0].loose)

    @property
    def tests(self) -> tuple:
        """The tests this circuit admits."""
        return self.setup.tests

    @property
    def faults(self) -> tuple:
        """The faults this circuit can have."""
        return self.setup.faults

    def record(self, test: str, **typed: object) -> "Job":
        """A new job with one more reading; InputError, and nothing lost, where the typed values are unusable.

        `typed` takes the names of `Reading`: ohm, shows, unit, ohms, ohms_swapped, in_circuit, good, at,
        signal_to_return_v, signal_to_battery_v, signal_ma; on three wires also ratio, supply_to_return_v,
        supply_to_battery_v, return_to_battery_v, loaded.
        """
        where = f"readings[{len(self.readings)}]"
        kinds = {t.id: t for t in self.setup.tests}
        if not isinstance(test, str) or test not in kinds:
            raise InputError(f"{where}.test", test, f"it is one of {', '.join(sorted(kinds))}")
        if len(self.readings) >= MOST_READINGS:
            raise InputError(where, "one too many", f"a job holds at most {MOST_READINGS} readings")
        return self._having((*self.readings, check_reading(
            test, kinds[test].takes, typed, where, self.setup.quantity.unit, kinds[test].needs == "at")))

    def without(self, index: int) -> "Job":
        """A new job without reading `index`."""
        if not isinstance(index, int) or not 0 <= index < len(self.readings):
            raise InputError("index", index, f"there are {len(self.readings)} readings, counted from 0")
        return self._having(self.readings[:index] + self.readings[index + 1:])

    def to_dict(self) -> dict:
        """The case file: the head as typed, then the readings as typed."""
        return {**self.case, "readings": [r.to_dict() for r in self.readings]}

    def _having(self, readings: tuple[Reading, ...]) -> "Job":
        """The job with these `readings`; no reading alters the model."""
        out = replace(self, readings=readings)
        if "model" in vars(self):
            vars(out)["model"] = self.model
        return out

    @cached_property
    def model(self) -> Model:
        """The job made numeric; jobs recorded from this one have the same."""
        return model_of(self.setup)

    @cached_property
    def belief(self) -> Belief:
        """What the readings say; a function of their set."""
        return believe(self.model, self.readings)

    @cached_property
    def _next(self) -> tuple[tuple[Advice, ...], bool]:
        return advise(self.belief, self.readings)

    @cached_property
    def _judged(self) -> Verdict:
        return judge(self.belief, self.readings, self._next[1])

    def advice(self) -> tuple[Advice, ...]:
        """Next steps, best first; empty when nothing is left that could tell more, or the fault is found."""
        return () if self._judged.state == "found" else self._next[0]

    def learned_circuit(self) -> dict:
        """What the readings narrowed of the input and its curve, as case-file `circuit` fields; {} where nothing is narrow."""
        learned, out = self._judged.learned, {}
        if "pull_up_ohm" in learned and learned["pull_up_ohm"].high < NARROW * learned["pull_up_ohm"].low:
            full = self.circuit.reference_v or learned["open_v"].mid
            out = {"pull_up_ohm": float(f"{learned['pull_up_ohm'].mid:.3g}"), "open_v": round(min(learned["open_v"].mid, full), 2)}
        up = learned["pulled_up"].mid if "pulled_up" in learned else 0.5
        if not 1.0 - PULL_SURE < up < PULL_SURE:
            out["pull"] = "up" if up > 0.5 else "down"
        ohm_25 = learned.get("curve_ohm_25")
        if ohm_25 is not None and ohm_25.high < NARROW * ohm_25.low and self.setup.quantity.unit == "degC":
            curve = beta_curve(ohm_25.mid, learned["curve_beta"].mid)
            out["curve"] = {"unit": "degC", "points": [[at, float(f"{float(curve.ohm_at(at)):.4g}")] for at in (25.0, 85.0)]}
        return out

    def verdict(self) -> Verdict:
        """What the readings prove so far."""
        return self._judged
