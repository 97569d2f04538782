"""When loose grains move, and how fast they fall: Soulsby, *Dynamics of Marine Sands* (1997).

The curves were fitted to loose, non-cohesive grains. Under some 0.05–0.1 mm they are extrapolated, and they know
nothing of sludge that sticks together: that is left to `release`. Sizes in mm, stresses in Pa, water given by
density [kg/m³] and kinematic viscosity [m²/s], or by temperature [°C] where a name says `temp_c`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from models.physics.friction import friction_factor
from models.physics.pipes import COPPER_ROUGHNESS_MM
from models.physics.water import density_kg_m3, viscosity_pa_s
from pipeline.contract.units import MM_PER_M

Floats = NDArray[np.float64]

GRAVITY_M_S2 = 9.81

DENSITY_KG_M3 = {
    "magnetite": 5180.0,
    "haematite": 5260.0,
    "goethite": 4280.0,
    "lepidocrocite": 4090.0,
    "calcite": 2710.0,
    "sand": 2650.0,
    "cement": 3150.0,
}
"""Grain densities [kg/m³]; mineral handbooks, from memory."""


def shields_parameter(
    shear_pa: ArrayLike, size_mm: ArrayLike, grain_kg_m3: ArrayLike, water_kg_m3: ArrayLike
) -> Floats:
    """Shear over the weight of a grain [-]: τ / (g (ρs − ρ) d). Soulsby 1997, eq. 74."""
    return np.asarray(np.asarray(shear_pa, dtype=np.float64) / _weight_pa(size_mm, grain_kg_m3, water_kg_m3))


def _weight_pa(size_mm: ArrayLike, grain_kg_m3: ArrayLike, water_kg_m3: ArrayLike) -> Floats:
    lighter = np.asarray(grain_kg_m3, dtype=np.float64) - np.asarray(water_kg_m3, dtype=np.float64)
    return np.asarray(GRAVITY_M_S2 * lighter * np.asarray(size_mm, dtype=np.float64) / MM_PER_M)


def _sizes_per_m(grain_kg_m3: ArrayLike, water_kg_m3: ArrayLike, viscosity_m2_s: ArrayLike) -> Floats:
    """(g (s − 1) / ν²)^⅓ [1/m]: what turns a size into the dimensionless one."""
    relative = np.asarray(grain_kg_m3, dtype=np.float64) / np.asarray(water_kg_m3, dtype=np.float64)
    return np.asarray(np.cbrt(GRAVITY_M_S2 * (relative - 1.0) / np.asarray(viscosity_m2_s, dtype=np.float64) ** 2))


def dimensionless_size(
    size_mm: ArrayLike, grain_kg_m3: ArrayLike, water_kg_m3: ArrayLike, viscosity_m2_s: ArrayLike
) -> Floats:
    """D* = d (g (s − 1) / ν²)^⅓ [-]. Soulsby 1997, eq. 75.

    >>> round(float(dimensionless_size(0.2, 2650.0, 1027.0, 1.36e-6)), 2)
    4.06
    """
    size_m = np.asarray(size_mm, dtype=np.float64) / MM_PER_M
    return np.asarray(size_m * _sizes_per_m(grain_kg_m3, water_kg_m3, viscosity_m2_s))


def critical_shields(size_star: ArrayLike) -> Floats:
    """Shields parameter at which grains of dimensionless size D* begin to move [-]. Soulsby 1997, eq. 77."""
    star = np.asarray(size_star, dtype=np.float64)
    return np.asarray(0.30 / (1.0 + 1.2 * star) - 0.055 * np.expm1(-0.020 * star))


def critical_shear_pa(
    size_mm: ArrayLike, grain_kg_m3: ArrayLike, water_kg_m3: ArrayLike, viscosity_m2_s: ArrayLike
) -> Floats:
    """Bed shear [Pa] at which loose grains of that size begin to move; rises with size (eq. 74, 75, 77)."""
    star = dimensionless_size(size_mm, grain_kg_m3, water_kg_m3, viscosity_m2_s)
    return np.asarray(critical_shields(star) * _weight_pa(size_mm, grain_kg_m3, water_kg_m3))


def settling_velocity_m_s(
    size_mm: ArrayLike, grain_kg_m3: ArrayLike, water_kg_m3: ArrayLike, viscosity_m2_s: ArrayLike
) -> Floats:
    """Velocity [m/s] at which natural grains fall: (ν/d)(√(10.36² + 1.049 D*³) − 10.36). Soulsby 1997, eq. 102.

    `size_mm` above 0. Grains are taken as irregular: magnetite falls within a tenth of smooth spheres up to 0.1 mm,
    and a third slower than they do at 1 mm.
    """
    star = dimensionless_size(size_mm, grain_kg_m3, water_kg_m3, viscosity_m2_s)
    size_m = np.asarray(size_mm, dtype=np.float64) / MM_PER_M
    pace = np.asarray(viscosity_m2_s, dtype=np.float64) / size_m
    return np.asarray(pace * (np.sqrt(10.36**2 + 1.049 * star**3) - 10.36))


def water_m2_s(temp_c: ArrayLike) -> Floats:
    """Kinematic viscosity of water [m²/s] at `temp_c` [°C]."""
    return np.asarray(viscosity_pa_s(temp_c) / density_kg_m3(temp_c))


def wall_shear_pa(
    velocity_m_s: ArrayLike, bore_mm: ArrayLike, temp_c: ArrayLike, roughness_mm: ArrayLike = COPPER_ROUGHNESS_MM
) -> Floats:
    """Mean shear on the wall [Pa] of a tube (or a channel of that hydraulic diameter, mm): f ρ V² / 8.

    Darcy's f by `friction.friction_factor`; 0 where the water stands.
    """
    speed = np.abs(np.asarray(velocity_m_s, dtype=np.float64))
    bore_m = np.asarray(bore_mm, dtype=np.float64) / MM_PER_M
    reynolds = np.maximum(speed * bore_m / water_m2_s(temp_c), 1e-9)
    factor = friction_factor(reynolds, np.asarray(roughness_mm, dtype=np.float64) / MM_PER_M / bore_m)
    return np.asarray(factor * density_kg_m3(temp_c) * speed**2 / 8.0)


def velocity_for_shear_m_s(
    shear_pa: ArrayLike, bore_mm: ArrayLike, temp_c: ArrayLike, roughness_mm: ArrayLike = COPPER_ROUGHNESS_MM
) -> Floats:
    """Mean velocity [m/s] that puts `shear_pa` [Pa] above 0 on the wall of a tube: the inverse of `wall_shear_pa`.

    Secant steps on logarithms, 30 at most; agrees with the direct law to 1e-6.
    """
    wanted = np.log(np.asarray(shear_pa, dtype=np.float64))
    log_v = 0.5 * (wanted + np.log(8.0 / (0.03 * density_kg_m3(temp_c))))
    for _ in range(30):
        missing = wanted - np.log(wall_shear_pa(np.exp(log_v), bore_mm, temp_c, roughness_mm))
        if np.max(np.abs(missing), initial=0.0) < 1e-7:
            break
        log_v = log_v + missing / 1.8
    return np.asarray(np.exp(log_v))


_STAR_GRID = np.geomspace(1e-5, 1e5, 8001)
_LOG_STAR = np.log(_STAR_GRID)
_LOG_STRENGTH = np.log(_STAR_GRID * critical_shields(_STAR_GRID))


def largest_moved_mm(
    shear_pa: ArrayLike, grain_kg_m3: ArrayLike, water_kg_m3: ArrayLike, viscosity_m2_s: ArrayLike
) -> Floats:
    """Size [mm] of the largest loose grain that a bed shear [Pa] ≥ 0 moves: the inverse of `critical_shear_pa`.

    By interpolation of D*·θcr over D* 1e-5–1e5 (held at the ends), within 1e-5 of the size.
    """
    per_m = _sizes_per_m(grain_kg_m3, water_kg_m3, viscosity_m2_s)
    lighter = np.asarray(grain_kg_m3, dtype=np.float64) - np.asarray(water_kg_m3, dtype=np.float64)
    strength = np.asarray(shear_pa, dtype=np.float64) * per_m / (GRAVITY_M_S2 * lighter)
    star = np.exp(np.interp(np.log(np.maximum(strength, 1e-300)), _LOG_STRENGTH, _LOG_STAR))
    return np.asarray(np.where(strength > 0.0, star / per_m * MM_PER_M, 0.0))


def movable_share(
    shear_pa: ArrayLike, median_mm: ArrayLike, sd_log: ArrayLike, grain_kg_m3: ArrayLike, temp_c: ArrayLike
) -> Floats:
    """Share of the mass of loose debris that a bed shear [Pa] can move, 0..1.

    Sizes by mass are lognormal: `median_mm` [mm] and `sd_log` [ln] > 0. That sizes are lognormal is an `assumption`.
    """
    largest = largest_moved_mm(shear_pa, grain_kg_m3, density_kg_m3(temp_c), water_m2_s(temp_c))
    with np.errstate(divide="ignore"):
        above = np.log(largest / np.asarray(median_mm, dtype=np.float64))
    return np.asarray(ndtr(above / np.asarray(sd_log, dtype=np.float64)))
