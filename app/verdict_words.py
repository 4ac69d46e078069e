"""Owns what the readings come to in words: the verdict as one sentence, and each reading's own say."""

import math

from app import wording

# Natural logarithms of how much a reading spoke for a place against the others: 3 to 1, 20 to 1.
SPEAKS, SPEAKS_LOUDLY = math.log(3.0), math.log(20.0)
# What a finding by eye that proves nothing yet asks for.
_SO_FAR = {False: ", found bad so far: mend that first", True: ", found good so far: look again, and take one more number"}


def verdict(kb: object, job: object, found: object) -> str:
    """The verdict as one sentence."""
    if found.state == "found" and found.location == "none":
        return f"The {wording.place(kb, 'none', job.sensor)} ({wording.chance(found.locations['none'])} sure): look elsewhere for the complaint."
    if found.state == "found":
        return f"The fault is in: {wording.place(kb, found.location, job.sensor)} ({wording.chance(found.locations[found.location])} sure)."
    if found.state == "nothing-fits":
        reading = job.readings[found.misfit] if found.misfit is not None else None
        which = f" Least fitting: {kb.test(reading.test, job.sensor).label}, {wording.result(reading, job.circuit.pointer)}." if reading else ""
        return f"Nothing listed explains these readings.{which} Check how that test was set up and take it again."
    if found.state == "out-of-reach":
        return f"No test left here can tell apart: {wording.places(kb, found.group, job.sensor)}."
    if found.missing_proof:
        so_far = {reading.test: _SO_FAR[reading.good] for reading in job.readings if reading.good is not None}
        ways = {role: " or ".join(kb.test(kind.id, job.sensor).label + so_far.get(kind.id, "")
                                  for kind in job.tests if kind.proof == role) for role in found.missing_proof}
        lead = wording.place(kb, found.location, job.sensor)
        return (f"All but proven: {lead} ({wording.chance(found.locations[found.location])}). "
                f"It counts as found after: {'; '.join(ways.values())}.")
    if not job.readings:
        return "Nothing measured yet: these are the chances before measuring."
    ahead = max(sorted(found.locations), key=lambda location: found.locations[location])
    return f"Not decided yet; ahead is: {wording.place(kb, ahead, job.sensor)} ({wording.chance(found.locations[ahead])})."


def because(kb: object, job: object, one: object, shown: str = "degC") -> str:
    """One reading, what the other readings made each place expect of it, and what it said about the places."""
    reading = job.readings[one.reading]
    said = f"{kb.test(one.test, job.sensor).label}: {wording.result(reading, job.circuit.pointer)}."
    bands = [f"{wording.place(kb, name, job.sensor)} {wording.expected(value, one.unit, shown)}"
             for name, value in sorted(one.expected.items()) if not isinstance(value, str)]
    if bands:
        said = f"{said} Expected: {'; '.join(bands)}."
    if not one.fits:
        return f"{said} This fits nothing that is listed."
    weights = sorted(one.weight.items(), key=lambda pair: (-abs(pair[1]), pair[0]))
    groups = (("Speaks strongly for", [place for place, weight in weights if weight >= SPEAKS_LOUDLY]),
              ("Speaks for", [place for place, weight in weights if SPEAKS <= weight < SPEAKS_LOUDLY]),
              ("Speaks against", [place for place, weight in weights if -SPEAKS_LOUDLY < weight <= -SPEAKS]),
              ("Speaks strongly against", [place for place, weight in weights if weight <= -SPEAKS_LOUDLY]))
    verdicts = [f"{verb} {wording.places(kb, found, job.sensor)}." for verb, found in groups if found]
    return " ".join([said, *(verdicts or ["Says little about the place."])])
