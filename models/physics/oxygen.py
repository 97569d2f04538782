"""Oxygen that gets into a heating system, by named routes.

Solubility: Benson & Krause to 40 °C (`corrosion.oxygen_saturation_mg_l`), above it Henry's constant of IAPWS
G7-04 with the vapour pressure of Wagner & Pruss (1993). Routes: fills and top-ups bring what the mains water
holds; an open vent that pumps over aerates water; plastic pipe without a barrier lets oxygen through its wall
(DIN 4726); leaks are made up with fresh water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.physics.corrosion import OXYGEN_G_MOL, oxygen_saturation_mg_l
from models.physics.water import density_kg_m3
from pipeline.contract.units import KELVIN_OFFSET_C, L_PER_M3, MINUTES_PER_HOUR

Floats = NDArray[np.float64]

ATMOSPHERE_PA = 101_325.0
OXYGEN_IN_AIR = 0.20946
WATER_G_MOL = 18.015
_CRITICAL_K, _CRITICAL_PA = 647.096, 22.064e6
_VAPOUR = (
    (1.0, -7.85951783),
    (1.5, 1.84408259),
    (3.0, -11.7866497),
    (3.5, 22.6807411),
    (4.0, -15.9618719),
    (7.5, 1.80122502),
)
_HENRY_O2 = (-9.44833, 4.43822, 11.42005)

HIGHEST_BENSON_KRAUSE_C = 40.0

NON_BARRIER_G_M3_DAY = 5.0
"""Oxygen through plastic pipe without a barrier at 40 °C [g per m³ of contents and day]; rationale of DIN 4726."""

BARRIER_G_M3_DAY = 0.10
"""Most that pipe with a barrier may let through at 40 °C [g/(m³ d)]; DIN 4726, older form."""

BARRIER_MG_M2_DAY = {40.0: 0.32, 80.0: 3.6}
"""The same per wall area [mg/(m² d)] by temperature [°C]; DIN 4726 newer form / ISO 17455 (area not verified)."""


def vapour_pressure_pa(temp_c: ArrayLike) -> Floats:
    """Vapour pressure of water [Pa], 0–370 °C; Wagner & Pruss 1993 (the form G7-04 is stated with)."""
    kelvin = np.asarray(temp_c, dtype=np.float64) + KELVIN_OFFSET_C
    below = 1.0 - kelvin / _CRITICAL_K
    terms = sum(factor * below**power for power, factor in _VAPOUR)
    return np.asarray(_CRITICAL_PA * np.exp(_CRITICAL_K / kelvin * terms))


def henry_oxygen_pa(temp_c: ArrayLike) -> Floats:
    """Henry's constant of oxygen in water [Pa per mole fraction], 1–343 °C; IAPWS G7-04.

    >>> round(float(np.log(henry_oxygen_pa(300 - 273.15) / 1e9)), 4)
    1.5024
    """
    kelvin = np.asarray(temp_c, dtype=np.float64) + KELVIN_OFFSET_C
    reduced = kelvin / _CRITICAL_K
    below = 1.0 - reduced
    a, b, c = _HENRY_O2
    log_ratio = a / reduced + b * below**0.355 / reduced + c * reduced**-0.41 * np.exp(below)
    return np.asarray(vapour_pressure_pa(temp_c) * np.exp(log_ratio))


def _henry_saturation_mg_l(temp_c: Floats, pressure_pa: Floats) -> Floats:
    dry_pa = np.maximum(pressure_pa - vapour_pressure_pa(temp_c), 0.0)
    fraction = OXYGEN_IN_AIR * dry_pa / henry_oxygen_pa(temp_c)
    moles_per_l = density_kg_m3(temp_c) / WATER_G_MOL
    return np.asarray(fraction * moles_per_l * 2.0 * OXYGEN_G_MOL * 1000.0)


def oxygen_solubility_mg_l(temp_c: ArrayLike, pressure_pa: ArrayLike = ATMOSPHERE_PA) -> Floats:
    """Oxygen [mg/L] in fresh water in balance with moist air of that total pressure [Pa, absolute], 0–99 °C.

    Benson & Krause to 40 °C, IAPWS G7-04 above; G7-04 lies 1.1 % higher where they meet. Other pressures by
    Henry's law: air under pressure dissolves more. ValueError outside 0–99 °C.

    >>> oxygen_solubility_mg_l([10.0, 60.0]).round(2).tolist()
    [11.29, 4.69]
    """
    temp, pressure = np.broadcast_arrays(
        np.asarray(temp_c, dtype=np.float64), np.asarray(pressure_pa, dtype=np.float64)
    )
    vapour = vapour_pressure_pa(temp)
    cold_c = np.clip(temp, 0.0, HIGHEST_BENSON_KRAUSE_C)
    with np.errstate(divide="ignore", invalid="ignore"):
        more = np.maximum(pressure - vapour, 0.0) / (ATMOSPHERE_PA - vapour)
    cold = oxygen_saturation_mg_l(cold_c) * more
    return np.asarray(np.where(temp <= HIGHEST_BENSON_KRAUSE_C, cold, _henry_saturation_mg_l(temp, pressure)))


def fill_oxygen_g(volume_l: ArrayLike, temp_c: ArrayLike) -> Floats:
    """Oxygen [g] that fills, top-ups or leaks made up bring: `volume_l` [L] of mains water at `temp_c` [°C], 1 atm."""
    return np.asarray(np.asarray(volume_l, dtype=np.float64) * oxygen_solubility_mg_l(temp_c) / 1000.0)


def pumping_over_oxygen_g(
    flow_l_min: ArrayLike, hours: ArrayLike, tank_c: ArrayLike, uptake: ArrayLike = 0.5
) -> Floats:
    """Oxygen [g] taken up by water that an open vent throws into the head tank and the cold feed draws back.

    `flow_l_min` [L/min] over the vent for `hours` [h]; the tank stands at `tank_c` [°C]; water comes without oxygen
    and leaves with the share `uptake` (0..1) of saturation: an `assumption`.
    """
    litres = np.asarray(flow_l_min, dtype=np.float64) * np.asarray(hours, dtype=np.float64) * MINUTES_PER_HOUR
    return np.asarray(litres * oxygen_solubility_mg_l(tank_c) * np.asarray(uptake) / 1000.0)


def plastic_temperature_factor(temp_c: ArrayLike) -> Floats:
    """Oxygen through a plastic wall against that at 40 °C: the Arrhenius line through the two barrier limits.

    0.32 mg/(m² d) at 40 °C and 3.6 at 80 °C (ISO 17455) give 55.6 kJ/mol; that pipe without a barrier follows the
    same line is an `assumption`.
    """
    (low_c, low), (high_c, high) = BARRIER_MG_M2_DAY.items()
    low_k, high_k = low_c + KELVIN_OFFSET_C, high_c + KELVIN_OFFSET_C
    per_inverse_k = np.log(high / low) / (1.0 / low_k - 1.0 / high_k)
    kelvin = np.asarray(temp_c, dtype=np.float64) + KELVIN_OFFSET_C
    return np.asarray(np.exp(per_inverse_k * (1.0 / low_k - 1.0 / kelvin)))


def plastic_oxygen_g(
    contents_l: ArrayLike, days: ArrayLike, temp_c: ArrayLike = 40.0, rate_g_m3_day: ArrayLike = NON_BARRIER_G_M3_DAY
) -> Floats:
    """Oxygen [g] through the wall of plastic pipe that holds `contents_l` [L] over `days` [d] of heating.

    `rate_g_m3_day` at 40 °C [g/(m³ d)]: `NON_BARRIER_G_M3_DAY` unless told, `BARRIER_G_M3_DAY` with a barrier.
    """
    contents_m3 = np.asarray(contents_l, dtype=np.float64) / L_PER_M3
    return np.asarray(contents_m3 * np.asarray(days) * np.asarray(rate_g_m3_day) * plastic_temperature_factor(temp_c))


def barrier_per_contents_g_m3_day(rate_mg_m2_day: ArrayLike, bore_mm: ArrayLike) -> Floats:
    """A limit per inner wall area [mg/(m² d)] as one per contents [g/(m³ d)]: 4 · rate / bore.

    0.32 mg/(m² d) is 0.10 g/(m³ d) in a bore of 12.8 mm exactly.
    """
    return np.asarray(4.0 * np.asarray(rate_mg_m2_day, dtype=np.float64) / np.asarray(bore_mm, dtype=np.float64))


@dataclass(frozen=True, slots=True)
class OxygenRoutes:
    """Oxygen into systems [g], by route, arrays of one shape."""

    fills_and_top_ups_g: Floats
    pumping_over_g: Floats
    plastic_pipe_g: Floats
    leaks_g: Floats

    @property
    def total_g(self) -> Floats:
        """All routes together [g]."""
        return np.asarray(self.fills_and_top_ups_g + self.pumping_over_g + self.plastic_pipe_g + self.leaks_g)
