"""Owns the first run of everything that is compiled, so that nobody waits for it at the vehicle."""

import shutil
from pathlib import Path

import numpy as np

from engine.bells import about_draws
from engine.cells import Nodes
from engine.compiled import PLACE, kept
from engine.dial_sheet import dial_sheet
from engine.divide_sheet import divide_sheet
from engine.likelihood import Evidence
from engine.model import canonical
from engine.proposal import fit_rows
from engine.ranked import quantiles
from engine.straight import Straight
from engine.unknowns import Z_NAMES
from knowledge.knowledge_base import Knowledge, load

# Readings that contradict each other, so that a fit has to look again and again: little is left out then. The circuits are told,
# which leaves few faults to weigh.
_TWO_WIRES = {"sensor": "coolant-temperature", "complaint": ("P0118",),
              "circuit": {"pull_up_ohm": 2200, "reference_v": 5, "curve": "ntc-2500-20c-coolant"},
              "readings": ({"test": "as-found", "shows": 10, "unit": "degC"}, {"test": "plug-volts", "signal_to_return_v": 3.0},
                           {"test": "sensor-ohms", "ohms": 9000, "at": {"value": 20, "unit": "degC"}})}
_THREE_WIRES = {"sensor": "throttle-position", "complaint": ("P0122",), "circuit": {"line": "throttle-050-425", "pull": "down"},
                "readings": ({"test": "as-found", "shows": 3},)}
_LOADED = ({"test": "as-found", "shows": 30}, {"test": "supply-volts", "supply_to_return_v": 3.9},
           {"test": "divide", "ratio": 0.5, "shows": 80})


def first_start() -> bool:
    """Whether no earlier start on this machine kept anything compiled."""
    return not kept()


def warm_all() -> None:
    """Compiles all there is, by the knowledge that comes with the program; what was compiled of older programs goes."""
    warm(load())
    forget_others(Path(str(PLACE)))


def forget_others(place: Path) -> None:
    """Removes what is kept beside `place`, compiled of other sources: nobody will start those again here."""
    for other in place.parent.glob(f"{place.name.split('-')[0]}-*"):
        if other != place:
            shutil.rmtree(other, ignore_errors=True)


def warm_drawing(kb: Knowledge) -> None:
    """The part of `warm` that fits do not begin with: compiled by a second process meanwhile, it is there when they need it."""
    job, rows = kb.job(**_TWO_WIRES), np.arange(2)
    evidence = Evidence(job.model, canonical(job.readings))
    evidence.by_reading(np.full((2, 1), 0.5), np.zeros((2, 1, len(Z_NAMES))), rows)
    size = len(evidence.active)
    bells = Straight(Nodes(np.tile([0.25, 0.75], (2, 1)), np.zeros((2, 2, size)), np.tile(np.eye(size), (2, 2, 1, 1)), np.zeros((2, 2))))
    drawn = bells.sample(evidence, rows, rows, np.zeros(2, int), np.full(2, 8))
    bells.ln_over_prior(evidence, rows, drawn.share.reshape(2, 8), drawn.z.reshape(2, 8, -1))
    quantiles(drawn.ln, drawn.ln, (0.5,))


def warm(kb: Knowledge) -> None:
    """Works small jobs of both kinds of circuit through, and a sheet of each, by `kb`, the knowledge that comes with the program:
    some two minutes of one core where nothing is compiled yet, a second or two where the last start kept what it compiled."""
    jobs = [kb.job(**_TWO_WIRES), kb.job(**_THREE_WIRES), kb.job(**{**_THREE_WIRES, "readings": _LOADED})]
    # First what a second process does not do.
    evidence = Evidence(jobs[0].model, canonical(jobs[0].readings))
    fit = fit_rows(evidence)
    rows = fit.rows[:1]
    share, z, ln = Straight(fit.nodes_of(rows)).draw(evidence, rows, 64, 0)
    about = about_draws(evidence, rows, share, z, ln)
    about.ln_over_prior(evidence, rows, *about.draw(evidence, rows, 8, 0)[:2])
    for job in jobs:
        job.verdict()
        job.advice()
    two, three = jobs[0], jobs[1]
    dial_sheet(two.circuit, two.curves[0][0], two.stand_in, two.meter, (20.0,))
    line = three.setup.three_wire.lines[0][0]
    divide_sheet(three.circuit, line, three.stand_in, three.meter, (50.0,), three.setup.quantity)
