"""Owns copper wire: ohms of a length of a gauge, the budget against which measured wire ohms are judged."""

from engine.errors import InputError

# Annealed copper at 20 degC, 100 % IACS (IEC 60028), and its change per kelvin.
COPPER_OHM_MM2_PER_M, COPPER_PER_K = 0.017241, 0.00393
THINNEST_AWG = 40


def wire_ohm(gauge: float, length_m: float, temperature_c: float = 20.0) -> float:
    """Resistance [ohm] of `length_m` [m] of solid copper wire of AWG `gauge` (-3 is 0000, 0 is 0) at `temperature_c` [degC].

    Diameter 0.127 mm * 92^((36 - gauge) / 39) (ASTM B258); stranded wire has up to
    5 % more (common practice, no source). Raises InputError for a gauge beyond
    -3..40 or a negative length.

    >>> round(wire_ohm(20, 10.0), 3)
    0.333
    """
    if not -3 <= gauge <= THINNEST_AWG:
        raise InputError("gauge", gauge, f"an AWG number from -3 to {THINNEST_AWG}")
    if not 0.0 <= length_m < float("inf"):
        raise InputError("length_m", length_m, "metres from 0 up")
    area_mm2 = 3.141592653589793 / 4.0 * (0.127 * 92.0 ** ((36.0 - gauge) / 39.0)) ** 2
    return COPPER_OHM_MM2_PER_M / area_mm2 * length_m * (1.0 + COPPER_PER_K * (temperature_c - 20.0))
