"""Owns longer sentences for the working screen: void readings, locks, provoking, what was learned, codes."""

from collections.abc import Mapping

from app import wording
from engine.curves import beta_curve
from engine.lamp_switch import most_watts

_VOID = {
    "swapped": "{said}. This counts for nothing: swapping the leads may not change ohms, so a voltage is in the way. "
               "Everything off, wait until the modules sleep, then measure both ways round again.",
    "in-circuit": "{said}. This counts for nothing: the meter measured that as well. "
                  "Unplug it at both ends, key off, and measure again.",
    "impossible": "{said}. These ohms contradict each other: between two points there can never be more than by way of a third. "
                  "Touch the meter's leads together and note or zero their own ohms, clean every point, and measure all again.",
    "unloaded": "{said}. This counts for nothing: a supply that nothing draws from may still collapse under load. "
                "Plug the sensor back in, or put the stand-in on, and measure again.",
    "contradictory": "{said}. Another measurement of the same thing says otherwise, so neither counts and no mean is taken. "
                     "Clean the points, check the meter's own leads, measure again, and take back the one that was wrong."}
LOCKED = ("Locked until the pins are known: this test joins two pins, and a wrong one may be a 5 V supply "
          "or the battery. Find the pins first, or say that the diagram names them.")
STOP_SUPPLY = ("Stop: the supply pin shows more than 5.5 V. Another circuit feeds back into it. Connect nothing, "
               "take the stand-in off with the key off, and find that feed first.")
PINS_KNOWN = "Pins known from the diagram."
PINS_UNKNOWN = "Taken back: the diagram does not count as naming the pins."
PROVOKE = ("A fault that comes and goes has to be made to come. Leave the stand-in on the plug at a fixed value, "
           "so that only the wiring can move the number. When does it happen?")
LAMP_SENSOR = {"works": "In air its ohms fall to where the lamp is lit, in liquid they stay where it is dark: the thermistor works.",
               "never-lights": "In air its ohms stay where the lamp is dark: this thermistor no longer falls low enough, and the circuit is in order.",
               "never-goes-out": "In liquid its ohms are already where the lamp is lit: this thermistor, or a resistor left beside it, keeps it on.",
               "open": "Its ohms lie where the lamp was not tried yet: try more values first."}
# Kind of refusal -> what it rests on, in a word or two, gravest first.
REFUSED_FOR = {"hazard": "danger", "signal": "no resistor makes this signal", "data": "figures missing so far"}
NOTES_HIDDEN = "What was noted here is not shown: this circuit is refused, and a figure in a note might be tried on it."
NO_CODE = "No code never counts as passed."
_REFERENCE_C = 20.0
_PULL_SURE = 0.9


def void(kb: object, job: object, one: object) -> str:
    """Why a reading (engine Void) says nothing, and what to do again."""
    reading = job.readings[one.reading]
    return _VOID[one.reason].format(said=f"{kb.test(reading.test, job.sensor).label}: {wording.result(reading, job.circuit.pointer)}")


_SIDES = {"none": "Module and sensor follow the same line: {expected}.",
          "wrong-part": "The module reads by the line expected; the sensor puts out {sensor}: a part for another range is fitted.",
          "wrong-coding": "The sensor follows the line expected; the module reads by {module}: it is coded for another sensor.",
          "both": "Neither side follows the line expected: the module reads by {module}, the sensor puts out {sensor}. Check which "
                  "line belongs here before anything is replaced.",
          "sensor-off": "The module reads by the line expected; what the sensor puts out fits no listed line: its plug, its supply or "
                        "the sensor itself.",
          "back-feed": "Something feeds the signal wire beside the sensor: the shares measured are pulled off the ones set. Find that "
                       "feed before either side is judged."}


def sides(found: object, expected: str, names: Mapping[str, str]) -> str:
    """Which side differs (engine Difference) in one sentence; `names` are labels of lines by id."""
    return _SIDES[found.cause].format(expected=expected, module=names.get(found.module_id, "a line nobody listed"),
                                      sensor=names.get(found.sensor_id, "what no listed line does"))


def provoked(job: object, test: str) -> str:
    """What provoking by `test` has shown so far: "" before it was tried."""
    found = [reading for reading in job.readings if reading.test == test and reading.good is not None]
    if not found:
        return ""
    bad = any(reading.good is False for reading in found)
    return wording.FOUND_WORDS[True, not bad]


def learned(found: Mapping, unit: str) -> str:
    """What the readings narrowed of the circuit, {name: engine Interval}, as one sentence with its spread; "" for nothing."""
    parts, gauge = [], "curve_ohm_0" in found
    if "pull_up_ohm" in found and wording.tells(found["pull_up_ohm"]):
        feed = f" {'on' if gauge else 'to'} {found['open_v'].mid:.1f} V" if "open_v" in found else ""
        parts.append(f"the {'gauge' if gauge else 'input'} looks like {_mid(found['pull_up_ohm'])}{feed} ({_ends(found['pull_up_ohm'])})")
    low, high = (found.get(name) for name in ("curve_ohm_0", "curve_ohm_100"))
    # A family that was told is nothing learned.
    if gauge and low.low < low.high and wording.tells(low) and wording.tells(high):
        parts.append(f"its family like {_mid(low)} at the low end ({_ends(low)}) and {_mid(high)} at the high end ({_ends(high)})")
    if "curve_ohm_25" in found and wording.tells(found["curve_ohm_25"]):
        parts.append(_curve(found, unit))
    if "pulled_up" in found:
        parts.append(_pull(found))
    return wording.title(f"{', '.join(parts)}.") if parts else ""


def lamp(found: object, feed_v: float) -> str:
    """Where a lamp switches (engine Bracket) and what to try next on `feed_v`."""
    if found.lit_ohm is not None and found.dark_ohm is not None:
        said = f"The lamp switches between {wording.ohms(found.lit_ohm)} (lit) and {wording.ohms(found.dark_ohm)} (dark): wire, lamp and feed work."
    elif found.lit_ohm is not None:
        said = f"Lit at {wording.ohms(found.lit_ohm)} and below."
    elif found.dark_ohm is not None:
        said = f"Dark at {wording.ohms(found.dark_ohm)} and above."
    else:
        said = ""
    if found.next_ohm is not None:
        most = wording.watts(most_watts(found.next_ohm, feed_v))
        return f"{said} Try about {wording.ohms(found.next_ohm, 2)}: it carries {most} at most.".strip()
    known = found.lit_ohm is not None and found.dark_ohm is not None
    end = "That is near enough: the circuit is proven, the thermistor is not." if known else \
        "The lamp does not answer to ohms at all: bulb, wire or feed."
    return f"{said} {end}"


def shop_jobs(kb: object, tally: Mapping[str, int], sensor: str) -> str:
    """What the shop book says of a sensor kind: "3 shop jobs: plug twice, sensor once"."""
    times = {1: "once", 2: "twice"}
    total = sum(tally.values())
    if not total:
        return ""
    counted = sorted(tally.items(), key=lambda pair: (-pair[1], pair[0]))
    said = ", ".join(f"{wording.place(kb, location, sensor)} {times.get(count, f'{count} times')}" for location, count in counted)
    return f"{total} shop {'job' if total == 1 else 'jobs'}: {said}"


def enabling(enable: str) -> str:
    """When a code can set at all (`enable` of the knowledge, "" where nothing is published), and what its absence is worth."""
    return f"When it can set: {enable} {NO_CODE}" if enable else f"When it can set is not published. {NO_CODE}"


def _pull(found: Mapping) -> str:
    """Which way a three-wire input pulls, and how hard, as far as it is known."""
    up = found["pulled_up"].mid
    way = "pulled up" if up > _PULL_SURE else "pulled down" if up < 1.0 - _PULL_SURE else "pulled up or down: not known yet"
    load = f" by {_mid(found['input_ohm'])} ({_ends(found['input_ohm'])})" if "input_ohm" in found and wording.tells(found["input_ohm"]) else ""
    return f"the signal input is {way}{load}, the supply {wording.volts(found['open_v'].mid)}"


def _curve(found: Mapping, unit: str) -> str:
    ohm_25 = found["curve_ohm_25"]
    beta = found.get("curve_beta")
    if beta is None or unit == "percent":
        return f"its curve like {_mid(ohm_25)} at {wording.temperature(25.0, unit)} ({_ends(ohm_25)})"
    low, mid, high = (wording.ohms(float(beta_curve(ohm, beta.mid).ohm_at(_REFERENCE_C)))
                      for ohm in (ohm_25.low, ohm_25.mid, ohm_25.high))
    return f"its curve like {mid} at {wording.temperature(_REFERENCE_C, unit)} ({low} to {high})"


def _mid(interval: object) -> str:
    return wording.quantity(interval.mid, interval.unit)


def _ends(interval: object) -> str:
    return f"{wording.quantity(interval.low, interval.unit)} to {wording.quantity(interval.high, interval.unit)}"
