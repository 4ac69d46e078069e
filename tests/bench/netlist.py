"""A general nodal solver: named nodes, resistors and voltage sources, and nothing about sensors.

It is the bench's own arithmetic, written as a matrix and solved as one, so that no closed form
of the program under test is repeated here.
"""

import math

import numpy as np

LEAK_TO_GROUND_S = 1e-13
"""Conductance every node has to the ground node, so that a floating node has a voltage at all."""

SMALLEST_OHM = 1e-4
"""A perfect short would make the matrix infinite; no joint of copper is below this."""


class Netlist:
    """Resistors and voltage sources between named nodes; `ground` is the node at 0 V."""

    def __init__(self, ground):
        self.ground = ground
        self._resistors = []
        self._sources = []

    def resistor(self, node_a, node_b, ohm):
        """Join two nodes by ohm [ohm]; an infinite one joins nothing."""
        if not ohm >= 0.0:
            raise ValueError(f"a resistor of {ohm} ohm between {node_a} and {node_b}: it must be 0 or more")
        if math.isfinite(ohm):
            self._resistors.append((node_a, node_b, max(float(ohm), SMALLEST_OHM)))

    def source(self, plus, minus, volt):
        """Hold plus at volt [V] above minus, whatever current that takes."""
        self._sources.append((plus, minus, float(volt)))

    def volts(self):
        """Voltage of every node above ground [V], as {node: volts}."""
        return self._solve(injected={})

    def ohms_between(self, node_a, node_b):
        """What an ohmmeter shows between two nodes of a network without sources [ohm].

        One ampere goes in at one node and out at the other; the volts between them are the ohms.
        """
        if self._sources:
            raise ValueError("an ohmmeter only reads ohms where nothing else feeds the network")
        volts = self._solve(injected={node_a: 1.0, node_b: -1.0})
        return volts[node_a] - volts[node_b]

    def _solve(self, injected):
        """Modified nodal analysis: one row per node, one more per source."""
        nodes = self._nodes(injected)
        row = {node: position for position, node in enumerate(nodes)}
        size = len(nodes) + len(self._sources)
        matrix = np.zeros((size, size))
        known = np.zeros(size)
        for position in range(len(nodes)):
            matrix[position, position] = LEAK_TO_GROUND_S
        for node_a, node_b, ohm in self._resistors:
            self._stamp_conductance(matrix, row.get(node_a), row.get(node_b), 1.0 / ohm)
        for node, ampere in injected.items():
            if node in row:
                known[row[node]] += ampere
        for position, (plus, minus, volt) in enumerate(self._sources, start=len(nodes)):
            for node, sign in ((plus, 1.0), (minus, -1.0)):
                if node in row:
                    matrix[position, row[node]] += sign
                    matrix[row[node], position] += sign
            known[position] = volt
        answer = np.linalg.solve(matrix, known)
        return {self.ground: 0.0, **{node: float(answer[row[node]]) for node in nodes}}

    def _nodes(self, injected):
        """Every node named so far except the ground, each once, in the order it was named."""
        named = [node for part in self._resistors + self._sources for node in part[:2]]
        return [node for node in dict.fromkeys([*named, *injected]) if node != self.ground]

    @staticmethod
    def _stamp_conductance(matrix, row_a, row_b, siemens):
        """Add one conductance [S] to the matrix; a missing row is the ground node."""
        for here, there in ((row_a, row_b), (row_b, row_a)):
            if here is None:
                continue
            matrix[here, here] += siemens
            if there is not None:
                matrix[here, there] -= siemens
