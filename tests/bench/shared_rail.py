"""The bench of shared rails: three-wire vehicles whose supply and return feed other sensors too, which complain as well.

    python -m tests.bench.shared_rail --count 500 --jobs 2 --out shared.jsonl
    python -m tests.bench.shared_rail --count 500 --unknown
    python -m tests.bench.shared_rail --show 17

Every fault of supply or return sits before the splice; one behind it is a vehicle of tests.bench.rails. What the others
on the rail show is solved in the same net, and their codes are entered with the first.
"""

from dataclasses import dataclass

from .rail_vehicle import CODES, RailVehicle
from .rails import command

SPLICE_OHM, NEIGHBOUR_PULL_OHM = 0.15, 2.5e5
STRAY_CODE, INTERMITTENT_CODE, IMPLAUSIBLE_CODE = 0.04, 0.7, 0.8
"""How often a neighbour has a code without cause here, by a fault that comes and goes, and where only its number is off."""
NOTICED = 0.05

PARTNERS = {"throttle-position": ("manifold-pressure", "egr-position"), "manifold-pressure": ("throttle-position", "egr-position"),
            "egr-position": ("throttle-position", "manifold-pressure"), "accelerator-pedal-position": ("air-conditioning-pressure",)}
PARTNER_CODES = {**CODES, "air-conditioning-pressure": ("P0532", "P0533", "P0531", None)}
OWN_RETURN = ("air-conditioning-pressure",)
"""Neighbours that share the supply alone."""


@dataclass(frozen=True)
class Neighbour:
    """Another sensor on the rail: its kind, ohms from supply to return, share it puts out, and whether it shares the return."""

    kind: str
    track_ohm: float
    share: float
    shares_return: bool


class SharedRailVehicle(RailVehicle):
    """A vehicle with one or two neighbours on its rail."""

    neighbours = ()

    def _complaints(self, rng):
        partners = rng.permutation(PARTNERS[self.sensor])[:1 + int(rng.random() < 0.4)]
        self.neighbours = tuple(Neighbour(str(kind), float(rng.uniform(600.0, 6000.0)), float(rng.uniform(0.1, 0.85)),
                                          str(kind) not in OWN_RETURN) for kind in partners)
        ill, well = (self._solve(rail) for rail in (self.rail, self.healthy))
        codes = [*super()._complaints(rng), *(self._code_of(one, ill[one.kind] / self.own_v, well[one.kind] / self.own_v, rng)
                                              for one in self.neighbours)]
        return [code for code in codes if code]

    def _code_of(self, neighbour, share, healthy, rng):
        """The neighbour's code, None where it has none."""
        low, high, implausible, intermittent = PARTNER_CODES[neighbour.kind]
        if rng.random() < STRAY_CODE:
            return (low, high, implausible)[int(rng.integers(3))]
        if abs(share - healthy) < NOTICED:
            return None
        plain = low if share < 0.04 else high if share > 0.96 else implausible if rng.random() < IMPLAUSIBLE_CODE else None
        if self.kind.intermittent:
            return (intermittent or plain) if rng.random() < INTERMITTENT_CODE else None
        return plain

    def _to_plug(self, net, rail, at_module):
        if at_module:
            super()._to_plug(net, rail, at_module)
            return
        net.resistor("own_supply_rail", "supply_splice", rail.supply_ohm)
        net.resistor("supply_splice", "plug_supply", SPLICE_OHM)
        net.resistor("lifted", "return_splice", rail.return_ohm + rail.module_return_ohm)
        net.resistor("return_splice", "plug_return", SPLICE_OHM)
        for one in self.neighbours:
            below = "return_splice" if one.shares_return else "module_ground"
            net.resistor("supply_splice", one.kind, (1.0 - one.share) * one.track_ohm)
            net.resistor(one.kind, below, one.share * one.track_ohm)
            net.resistor(one.kind, "module_ground", NEIGHBOUR_PULL_OHM)


if __name__ == "__main__":
    command(__doc__, "shared-rail", "foreign vehicles of shared rails", SharedRailVehicle)
