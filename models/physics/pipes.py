"""Round tube: contents, velocity, friction. Units in the names; water properties from `water`.

Bores are outside diameter less twice the wall; sizes of copper tube from EN 1057. Friction through the
`fluids` package: 64/Re up to Re 2,000, Clamond's solution of the Colebrook equation from 2,500, a blend between.
"""

from __future__ import annotations

import numpy as np
from fluids.vectorized import Clamond  # type: ignore[attr-defined]
from numpy.typing import ArrayLike, NDArray

from models.physics.water import density_kg_m3, viscosity_pa_s
from pipeline.contract.units import L_PER_M3, MM_PER_M, SECONDS_PER_MINUTE

COPPER_ROUGHNESS_MM = 0.0015
"""Roughness of drawn copper tube [mm]; the value of the usual friction tables."""

COPPER_WALL_MM = {8.0: 0.6, 10.0: 0.7, 15.0: 0.7, 22.0: 0.9, 28.0: 0.9, 35.0: 1.2, 42.0: 1.2, 54.0: 1.2}
"""Usual wall [mm] by outside diameter [mm]: EN 1057 sizes; 8 and 10 mm are the soft microbore sizes."""


LAMINAR_RE, TURBULENT_RE = 2000.0, 2500.0
"""Where 64/Re ends and the Colebrook equation begins. The band is narrow because the published pipe-sizing table is
turbulent from about Re 2,500 on (`tests/published`); inside it the factor is an `assumption`."""


def bore_mm(outside_mm: ArrayLike, wall_mm: ArrayLike) -> NDArray[np.float64]:
    """Inside diameter [mm] from outside diameter and wall [mm]; ValueError when the wall fills the tube."""
    bore = np.asarray(outside_mm, dtype=np.float64) - 2.0 * np.asarray(wall_mm, dtype=np.float64)
    if np.any(bore <= 0.0):
        raise ValueError("wall_mm must be less than half of outside_mm")
    return np.asarray(bore)


def copper_bore_mm(outside_mm: ArrayLike) -> NDArray[np.float64]:
    """Inside diameter [mm] of copper tube by outside diameter [mm]; walls between listed sizes interpolated."""
    outside = np.asarray(outside_mm, dtype=np.float64)
    return bore_mm(outside, np.interp(outside, list(COPPER_WALL_MM), list(COPPER_WALL_MM.values())))


def contents_l_m(bore: ArrayLike) -> NDArray[np.float64]:
    """Water contents [L/m] of a tube of that bore [mm].

    >>> round(float(contents_l_m(13.6)), 4)
    0.1453
    """
    return np.asarray(np.pi / 4.0 * (np.asarray(bore, dtype=np.float64) / MM_PER_M) ** 2 * L_PER_M3)


def velocity_m_s(flow_l_min: ArrayLike, bore: ArrayLike) -> NDArray[np.float64]:
    """Mean velocity [m/s] of a flow [L/min] in a tube of that bore [mm]."""
    return np.asarray(np.asarray(flow_l_min, dtype=np.float64) / SECONDS_PER_MINUTE / contents_l_m(bore))


def reynolds(flow_l_min: ArrayLike, bore: ArrayLike, temp_c: ArrayLike) -> NDArray[np.float64]:
    """Reynolds number [-] of water at `temp_c` [°C]; flow [L/min], bore [mm]."""
    diameter_m = np.asarray(bore, dtype=np.float64) / MM_PER_M
    velocity = velocity_m_s(flow_l_min, bore)
    return np.asarray(density_kg_m3(temp_c) * velocity * diameter_m / viscosity_pa_s(temp_c))


def gradient_pa_m(
    flow_l_min: ArrayLike, bore: ArrayLike, temp_c: ArrayLike, roughness_mm: float = COPPER_ROUGHNESS_MM
) -> NDArray[np.float64]:
    """Friction [Pa/m] of water at `temp_c` [°C]: Darcy–Weisbach. Flow [L/min] > 0, bore and roughness [mm].

    Straight tube only; fittings are not in it.
    """
    diameter_m = np.asarray(bore, dtype=np.float64) / MM_PER_M
    factor = _friction_factor(reynolds(flow_l_min, bore, temp_c), roughness_mm / MM_PER_M / diameter_m)
    dynamic_pa = 0.5 * density_kg_m3(temp_c) * velocity_m_s(flow_l_min, bore) ** 2
    return np.asarray(np.asarray(factor) * dynamic_pa / diameter_m)


def _friction_factor(re: NDArray[np.float64], relative_roughness: ArrayLike) -> NDArray[np.float64]:
    """Darcy factor without a step: between the two laws ln f goes over from one to the other, level at both ends."""
    laminar = 64.0 / re
    turbulent = np.asarray(Clamond(np.maximum(re, LAMINAR_RE), relative_roughness))
    place = np.clip(np.log(re / LAMINAR_RE) / np.log(TURBULENT_RE / LAMINAR_RE), 0.0, 1.0)
    weight = place**2 * (3.0 - 2.0 * place)
    return np.asarray(laminar ** (1.0 - weight) * turbulent**weight)


def square_law_resistance(
    length_m: ArrayLike, bore: ArrayLike, factor: float = 0.03, density: float = 990.0
) -> NDArray[np.float64]:
    """Resistance r [Pa/(L/min)²] of a tube such that loss = r · flow²: the rough-turbulent short cut.

    `length_m` [m], `bore` [mm], `factor` the Darcy friction factor, `density` [kg/m³]. From 35 % under to
    60 % over `gradient_pa_m` between 0.3 and 2 m/s in 8–28 mm copper; use that one where it matters.
    """
    diameter_m = np.asarray(bore, dtype=np.float64) / MM_PER_M
    per_velocity = 0.5 * factor * np.asarray(length_m, dtype=np.float64) / diameter_m * density
    return np.asarray(per_velocity * velocity_m_s(1.0, bore) ** 2)


def kv_resistance(kv_m3_h: ArrayLike) -> NDArray[np.float64]:
    """Resistance [Pa/(L/min)²] of a valve of flow coefficient Kv [m³/h at 1 bar]; IEC 60534-2-1."""
    flow_m3_h_per_l_min = 0.06
    return np.asarray(1.0e5 * (flow_m3_h_per_l_min / np.asarray(kv_m3_h, dtype=np.float64)) ** 2)
