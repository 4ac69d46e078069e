"""The law of a bench sensor: ohms against temperature, drawn so that no published table is met."""

import math
from dataclasses import dataclass

import numpy as np

ZERO_C_IN_K = 273.15
_GRID_C = np.arange(-80.0, 260.01, 0.05)
_GRID_INVERSE_K = 1.0 / (_GRID_C + ZERO_C_IN_K) - 1.0 / (25.0 + ZERO_C_IN_K)


@dataclass(frozen=True)
class Thermistor:
    """Falling resistance: ln(R/R25) = beta x + bend x^2 with x = 1/T - 1/298.15 K.

    ohm_at_25 [ohm], beta_k [K], bend_k2 [K^2]. The bend is what a two-point law leaves out.
    step is (degC, factor): a cracked element whose ohms jump by the factor above that temperature.
    """

    ohm_at_25: float
    beta_k: float
    bend_k2: float
    step: tuple[float, float] | None = None

    def ohm(self, temperature_c):
        """Resistance [ohm] at a temperature [degC]."""
        x = 1.0 / (temperature_c + ZERO_C_IN_K) - 1.0 / (25.0 + ZERO_C_IN_K)
        factor = self.step[1] if self.step and temperature_c > self.step[0] else 1.0
        return factor * self.ohm_at_25 * math.exp(self.beta_k * x + self.bend_k2 * x * x)

    def temperature_c(self, ohm):
        """Temperature [degC] at a resistance [ohm], held at the ends of the grid (-80 and 260 degC)."""
        if ohm <= 0.0:
            return float(_GRID_C[-1])
        logs = self.beta_k * _GRID_INVERSE_K + self.bend_k2 * _GRID_INVERSE_K**2
        return float(np.interp(-math.log(ohm / self.ohm_at_25), -logs, _GRID_C))

    def points(self, count=12, low_c=-40, high_c=130):
        """Printed table: [temperature in whole degC, ohms to four digits] rows."""
        whole = [int(round(t)) for t in np.linspace(low_c, high_c, count)]
        return [[t, float(f"{self.ohm(t):.4g}")] for t in whole]


@dataclass(frozen=True)
class RisingSensor:
    """A sensor of the other kind: ohms that rise by a share per kelvin, straight (nickel, silicon)."""

    ohm_at_25: float
    rise_per_k: float

    def ohm(self, temperature_c):
        """Resistance [ohm] at a temperature [degC]."""
        return self.ohm_at_25 * max(1.0 + self.rise_per_k * (temperature_c - 25.0), 0.05)


def draw_thermistor(rng):
    """A maker's nominal curve: 1.8-12 k at 25 degC, beta 3300-4100 K, slightly bent."""
    return Thermistor(
        ohm_at_25=float(np.exp(rng.uniform(np.log(1800.0), np.log(12000.0)))),
        beta_k=float(rng.uniform(3300.0, 4100.0)),
        bend_k2=float(rng.uniform(-1.6e5, 2.0e4)),
    )
