"""The bench of two tracks: pedals and throttles whose module compares two tracks on one shaft, with a fault in one or in both.

    python -m tests.bench.tracks --count 500 --jobs 2 --out tracks.jsonl
    python -m tests.bench.tracks --count 500 --unknown
    python -m tests.bench.tracks --show 17

Both tracks are solved in one net, and the codes are those of two tracks. A job is one track's: where the codes do not say
which, the numbers of both are read at both stops first, and the one further off is taken.
"""

from dataclasses import replace

import numpy as np

from .rail_faults import FALSE_ALARM
from .rail_vehicle import SHOWS_ITSELF, RailVehicle, Scale
from .rails import command

CODES = {"accelerator-pedal-position": (("P2122", "P2123"), ("P2127", "P2128"), "P2138", "P2121"),
         "throttle-position": (("P0122", "P0123"), ("P0222", "P0223"), "P2135", "P0121")}
"""Low and high of each track, both disagree, and a number that is wrong on both alike."""
RELATIONS = (("falls", 0.4), ("half", 0.25), ("offset", 0.2), ("same-start", 0.15))
PART_V, SEEN_TO_PART, WORN_SEEN = 0.25, 0.95, 0.8
"""Volts off the relation that an eye takes for parting; how often it is then noted; how often a worn spot is passed over."""
CODE_OF_WHAT_COMES_AND_GOES = 0.7
BOTH_STUCK, LEAST_PULL_OHM = 0.5, 1e5

OF_SUPPLY = ("supply_v", "supply_ohm", "contact_supply_ohm", "burden_ohm")
OF_RETURN = ("return_ohm", "module_return_ohm", "lifted_v", "contact_return_ohm")
OF_ALL = ("ground_v", "value")


class TrackVehicle(RailVehicle):
    """A vehicle with a second track on the shaft; `rail` and `scale` are those of the track the job is on."""

    sensors = (("accelerator-pedal-position", 0.75), ("throttle-position", 0.25))
    partner = None

    def _complaints(self, rng):
        # A module that compares two tracks loads neither much.
        self.rail, self.healthy = (replace(one, pull_ohm=max(one.pull_ohm, LEAST_PULL_OHM)) for one in (self.rail, self.healthy))
        self.relation = str(rng.choice([name for name, _ in RELATIONS], p=[weight for _, weight in RELATIONS]))
        shares_return = rng.random() < 0.6
        shares_supply = shares_return and rng.random() < 0.65
        self.shared = (OF_SUPPLY if shares_supply else ()) + (OF_RETURN if shares_return else ()) + OF_ALL
        well = replace(self.healthy, track_ohm=float(rng.uniform(1200.0, 7000.0)), wiper_ohm=float(rng.uniform(30.0, 400.0)))
        if self.rail.ratio_stuck is not None and rng.random() < BOTH_STUCK:
            # The shaft itself no longer follows: the second stands where the first does.
            well = replace(well, value=self._at(self.rail.ratio_stuck))
            self.shared = tuple(name for name in self.shared if name != "value")
        self.partner_scale = self._second_scale(rng)
        self.partner = replace(well, **{name: getattr(self.rail, name) for name in self.shared})
        self.limit = float(rng.uniform(4.0, 8.0))
        second_is_ill = rng.random() < 0.5
        codes, mine = self._codes_of(rng, second_is_ill)
        if not mine:
            self._swap()
        return codes

    def _at(self, share):
        return self.scale.low + (share - self.scale.low_share) * (self.scale.high - self.scale.low) / (self.scale.high_share - self.scale.low_share)

    def _second_scale(self, rng):
        """The other track's line, in its relation to this one."""
        first = self.scale
        ends = (first.share(0.0), first.share(100.0))
        if self.relation == "falls":
            total = float(rng.uniform(0.96, 1.02))
            ends = [total - share for share in ends]
        elif self.relation == "half":
            ends = [share / 2.0 for share in ends]
        elif self.relation == "offset":
            by = float(rng.uniform(0.08, 0.17)) * (1.0 if max(ends) < 0.8 else -1.0)
            ends = [share + by for share in ends]
        else:
            ends = [ends[0], ends[0] + 0.45 * (ends[1] - ends[0])]
        low, high = (float(np.clip(share, 0.05, 0.95)) for share in ends)
        return Scale(low, 0.0, high, 100.0, first.step, first.ends, first.limits, first.default)

    def _codes_of(self, rng, second_is_ill):
        """(codes set, whether the job is on the track the fault was drawn for)."""
        own, other, parted, alike = CODES[self.sensor]
        if second_is_ill:
            own, other = other, own
        seen = self._seen(self._solve(self.rail))
        found = [pair[int(share > 0.5)] for pair, share in zip((own, other), seen, strict=True) if not 0.04 <= share <= 0.96]
        off = self._numbers_off()
        if abs(off[0] - off[1]) > self.limit:
            found.append(parted)
        found = found or [alike]
        if self.kind.intermittent:
            return (found if rng.random() < CODE_OF_WHAT_COMES_AND_GOES else []), True
        of_mine, of_other = (any(code in pair for code in found) for pair in (own, other))
        if of_mine != of_other:
            return found, of_mine
        # Both tracks' numbers were read: the job is on the one further off.
        return found, abs(off[0]) >= abs(off[1])

    def _seen(self, volts):
        """Share of its supply the module takes this track and the other for."""
        pins = volts["pin"], volts["partner_pin"] - volts["module_ground"]
        dead = self.rail.dead_share, self.partner.dead_share
        return [volt / self.own_v if instead is None else instead for volt, instead in zip(pins, dead, strict=True)]

    def _numbers_off(self):
        """How far each track's number is from the travel where it is furthest, at the two stops [percent]."""
        out = []
        for travel in (self.rest, self.other_end):
            there = replace(self.rail, value=travel)
            volts = self._solve(there)
            second = self.partner_scale.shown(float(np.clip(self._seen(volts)[1], 0.0, 1.0)), self.partner.gain)
            out.append([self._number(volts, there) - travel, second - travel])
        return [max(pair, key=abs) for pair in zip(*out, strict=True)]

    def _swap(self):
        """The job is on the other track."""
        self.scale, self.partner_scale = self.partner_scale, self.scale
        self.rail, self.partner = self.partner, self.rail
        self.healthy = replace(self.healthy, track_ohm=self.rail.track_ohm, wiper_ohm=self.rail.wiper_ohm)

    def _sensor(self, net, rail, share, given):
        super()._sensor(net, rail, share, given)
        if self.partner is None:
            return
        other = replace(self.partner, **{name: getattr(rail, name) for name in self.shared})
        if "supply_v" in self.shared:
            net.resistor("own_supply", "partner_supply", 1e-3)
        else:
            net.source("partner_rail", "module_ground", other.supply_v)
            net.resistor("partner_rail", "partner_supply", other.supply_ohm + other.contact_supply_ohm)
        if "return_ohm" in self.shared:
            net.resistor("own_return", "partner_return", 1e-3)
        else:
            net.source("partner_lifted", "module_ground", other.lifted_v)
            net.resistor("partner_lifted", "partner_return", other.return_ohm + other.module_return_ohm + other.contact_return_ohm)
        at = (other.ratio_stuck if other.ratio_stuck is not None
              else self.partner_scale.share(other.value) * other.ratio_gain + other.ratio_shift)
        at = float(np.clip(at, 0.0, 1.0))
        if "burden_ohm" not in self.shared:
            net.resistor("partner_supply", "partner_return", other.burden_ohm)
        net.resistor("partner_supply", "partner_track", other.top_ohm + (1.0 - at) * other.track_ohm)
        net.resistor("partner_track", "partner_return", other.bottom_ohm + at * other.track_ohm)
        net.resistor("partner_track", "partner_plug", other.wiper_ohm + other.contact_signal_ohm)
        net.resistor("partner_plug", "partner_pin", other.signal_ohm)
        for node, ohm in (("chassis", other.leak_ground_ohm), ("battery", other.leak_battery_ohm), ("other_5v", other.leak_supply_ohm)):
            net.resistor("partner_plug", node, ohm)
        net.source("partner_pull", "module_ground", other.pull_v)
        net.resistor("partner_pin", "partner_pull", other.pull_ohm)

    def answer(self, test, ratio=None, times=0):
        """As on one track; the comparison of both is read off the net."""
        if test != "track-agreement":
            return super().answer(test, ratio, times)
        rng = np.random.default_rng([self.number, 32452843, times])
        if self.fault_id == "sensor-worn":
            return {"good": bool(rng.random() >= WORN_SEEN)}
        ill = not self.kind.intermittent or rng.random() < SHOWS_ITSELF
        parts = self._volts_part() if ill else 0.0
        return {"good": bool(rng.random() >= (SEEN_TO_PART if parts > PART_V else FALSE_ALARM))}

    def _volts_part(self):
        """Most volts by which the second track's signal is off what the first one's stands for, along the travel."""
        worst = 0.0
        for travel in np.linspace(self.rest, self.other_end, 5):
            volts = self._solve(replace(self.rail, value=float(travel)))
            first, second = (volts[node] - volts["plug_return"] for node in ("plug_signal", "partner_plug"))
            meant = self.partner_scale.share(self._at(first / 5.0)) * 5.0
            worst = max(worst, abs(second - meant))
        return worst


if __name__ == "__main__":
    command(__doc__, "tracks", "foreign vehicles of two tracks", TrackVehicle)
