"""Owns the quantities behind a circuit's unknowns, for a block of samples."""

import math

import numpy as np

from engine.block import B, OF3_AT, OF_AT, Z_AT, lanes
from engine.compiled import compiled, exp_of, inlined
from engine.packed import OF
from engine.three_wire import OF3
from engine.unknowns import Z_NAMES

# Standard deviations of what a data sheet would call tolerance (common practice, no source).
PART_SD = 0.012
SENSOR_LN_SD = 0.022
SENSOR_BETA_SD_K = 35.0
GROUND_SD_V = 0.02
LOWEST_BETA_K = 1500.0
# Inputs of three-wire signals: a pull-down of 100 kohm to 1 Mohm on most, some pulled up, by a few kohm too (published
# figures and from memory).
DOWN_LN_OHM, DOWN_LN_SD, UP_LN_OHM, UP_LN_SD = math.log(3e5), 0.8, math.log(6e4), 1.2
# Tolerance of a sensor's ratio at one end, and over its span (common practice, no source).
RATIO_SD, RATIO_SPAN_SD = 0.008, 0.006
# The ends of a line nobody listed lie at least so far apart.
LEAST_LINE_SPAN = 0.15


@inlined
def put_quantities(job: object, w: np.ndarray, n: int) -> None:
    """Puts the quantities behind the standard normals of the first `n` samples of block `w` in their place: OF of two wires, OF3
    of three."""
    if job.two_wires:
        _two(job, w, n)
    else:
        _three(job, w, n)


@inlined
def _two(job: object, w: np.ndarray, n: int) -> None:
    source, source_sd, open_sd = job.source, job.source_ln_sd, job.open_sd
    if job.source_told:
        for s in range(n):
            w[OF_AT.source_ohm + s] = source
    else:
        for s in range(n):
            w[OF_AT.source_ohm + s] = exp_of(source + source_sd * w[Z_AT.source + s])
    ln_ohm, ln_sd, beta, beta_sd, true, true_sd = (job.family_ln_ohm, job.family_ln_sd, job.family_beta_k, job.family_beta_sd,
                                                   job.true_mean, job.true_sd)
    thermometer_sd = job.thermometer_sd
    for s in range(n):
        w[OF_AT.part_factor + s] = exp_of(PART_SD * w[Z_AT.part + s])
        w[OF_AT.open_factor + s] = 1.0 + open_sd * w[Z_AT.open + s]
        w[OF_AT.family_ln_ohm + s] = ln_ohm + ln_sd * w[Z_AT.family_ohm + s]
        w[OF_AT.family_beta_k + s] = max(beta + beta_sd * w[Z_AT.family_beta + s], LOWEST_BETA_K)
        w[OF_AT.sensor_ln + s] = SENSOR_LN_SD * w[Z_AT.sensor + s]
        w[OF_AT.sensor_beta_k + s] = SENSOR_BETA_SD_K * w[Z_AT.sensor_beta + s]
        w[OF_AT.true_value + s] = true + true_sd * w[Z_AT.true + s]
        w[OF_AT.thermometer + s] = thermometer_sd * w[Z_AT.thermometer + s]
        w[OF_AT.ground_v + s] = GROUND_SD_V * w[Z_AT.ground + s]


@inlined
def _three(job: object, w: np.ndarray, n: int) -> None:
    source, told, track, track_sd, open_sd = job.source, job.source_told, job.track_ohm, job.track_ln_sd, job.open_sd
    low_mean, low_sd, high_mean, high_sd = job.line_low, job.line_low_sd, job.line_high, job.line_high_sd
    line_from, line_span, span_sd = job.line_from, job.line_to - job.line_from, job.line_span_ln_sd
    for s in range(n):
        w[OF3_AT.down_ohm + s] = source if told else exp_of(DOWN_LN_OHM + DOWN_LN_SD * w[Z_AT.source + s])
        w[OF3_AT.up_ohm + s] = source if told else exp_of(UP_LN_OHM + UP_LN_SD * w[Z_AT.source + s])
        w[OF3_AT.track_ohm + s] = track * exp_of(track_sd * w[Z_AT.part + s])
        w[OF3_AT.supply_factor + s] = 1.0 + open_sd * w[Z_AT.open + s]
        w[OF3_AT.ratio_offset + s], w[OF3_AT.ratio_span + s] = RATIO_SD * w[Z_AT.sensor + s], RATIO_SPAN_SD * w[Z_AT.sensor_beta + s]
        w[OF3_AT.true_z + s], w[OF3_AT.at_z + s] = w[Z_AT.true + s], w[Z_AT.thermometer + s]
        w[OF3_AT.ground_v + s] = GROUND_SD_V * w[Z_AT.ground + s]
        low = low_mean + low_sd * w[Z_AT.family_ohm + s]
        high = max(high_mean + high_sd * w[Z_AT.family_beta + s], low + LEAST_LINE_SPAN)
        slope = line_span * exp_of(span_sd * w[Z_AT.family_beta + s]) / (high - low)
        w[OF3_AT.line_offset + s], w[OF3_AT.line_slope + s] = line_from - slope * low, slope


@compiled
def quantities_all(jobs: np.ndarray, z: np.ndarray) -> np.ndarray:
    """The quantities (n, .) behind standard normals `z` (n, z) of the one job in `jobs`."""
    count = max(len(OF), len(OF3))
    out, w = np.zeros((len(z), count)), np.zeros(OF_AT[0] + B * count)
    for start in range(0, len(z), B):
        n = min(B, len(z) - start)
        for s in range(n):
            for a in range(len(Z_NAMES)):
                w[Z_AT[0] + a * B + s] = z[start + s, a]
        put_quantities(jobs[0], w, lanes(n))
        for s in range(n):
            for q in range(count):
                out[start + s, q] = w[OF_AT[0] + q * B + s]
    return out
