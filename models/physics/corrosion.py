"""From oxygen and steel to magnetite: stoichiometry, the oxygen that water brings, and how rinsing thins.

Molar masses: IUPAC. Routes: 3 Fe + 2 O2 → Fe3O4 (direct), and 2 Fe + O2 + 2 H2O → 2 Fe(OH)2 followed by
3 Fe(OH)2 → Fe3O4 + H2 + 2 H2O (Schikorr), which makes 4/3 as much per oxygen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.contract.units import DAYS_PER_YEAR, KELVIN_OFFSET_C, L_PER_M3

IRON_G_MOL = 55.845
OXYGEN_G_MOL = 15.999
MAGNETITE_G_MOL = 3.0 * IRON_G_MOL + 4.0 * OXYGEN_G_MOL
STEEL_KG_M3 = 7850.0
GAS_J_MOL_K = 8.314462618
FARADAY_C_MOL = 96485.33212
ATMOSPHERE_PA = 101_325.0

MAGNETITE_PER_OXYGEN_DIRECT = MAGNETITE_G_MOL / (2.0 * 2.0 * OXYGEN_G_MOL)
"""Magnetite made per oxygen used, direct route [g/g]."""

MAGNETITE_PER_OXYGEN_SCHIKORR = MAGNETITE_PER_OXYGEN_DIRECT * 4.0 / 3.0
"""Magnetite made per oxygen used, by way of the hydroxide [g/g]."""

IRON_PER_OXYGEN_DIRECT = 3.0 * IRON_G_MOL / (4.0 * OXYGEN_G_MOL)
"""Iron lost per oxygen used, direct route [g/g]."""

IRON_PER_OXYGEN_SCHIKORR = IRON_PER_OXYGEN_DIRECT * 4.0 / 3.0
"""Iron lost per oxygen used, by way of the hydroxide [g/g]."""

HAEMATITE_PER_OXYGEN = 2.0 * (2.0 * IRON_G_MOL + 3.0 * OXYGEN_G_MOL) / (6.0 * OXYGEN_G_MOL)
"""Haematite made per oxygen used, 4 Fe + 3 O2 → 2 Fe2O3 [g/g]."""

IRON_SHARE_OF_MAGNETITE = 3.0 * IRON_G_MOL / MAGNETITE_G_MOL
"""Iron in magnetite [g/g]."""

MAGNETITE_G_M2_PER_UM = STEEL_KG_M3 * 1e-6 * 1000.0 / IRON_SHARE_OF_MAGNETITE
"""Magnetite per micrometre of steel lost [g/(m² µm)]."""


def oxygen_saturation_mg_l(temp_c: ArrayLike) -> NDArray[np.float64]:
    """Oxygen in fresh water in balance with air at 1 atm [mg/L], 0–40 °C.

    Benson & Krause, the equation of APHA Standard Methods 4500-O; ValueError outside its range.

    >>> round(float(oxygen_saturation_mg_l(10.0)), 3)
    11.288
    """
    temp = np.asarray(temp_c, dtype=np.float64)
    if np.any(temp < 0.0) or np.any(temp > 40.0):
        raise ValueError("oxygen saturation is given for 0..40 °C")
    kelvin = temp + KELVIN_OFFSET_C
    log_mg_l = (
        -139.34411 + 1.575701e5 / kelvin - 6.642308e7 / kelvin**2 + 1.243800e10 / kelvin**3 - 8.621949e11 / kelvin**4
    )
    return np.asarray(np.exp(log_mg_l))


def magnetite_from_fill_g(volume_l: ArrayLike, temp_c: ArrayLike) -> NDArray[np.float64]:
    """Most magnetite [g] that the oxygen in `volume_l` [L] of fresh water at `temp_c` [°C] can make (Schikorr)."""
    oxygen_g = np.asarray(volume_l, dtype=np.float64) * oxygen_saturation_mg_l(temp_c) / 1000.0
    return np.asarray(oxygen_g * MAGNETITE_PER_OXYGEN_SCHIKORR)


def magnetite_from_loss_g(area_m2: ArrayLike, loss_um: ArrayLike) -> NDArray[np.float64]:
    """Magnetite [g] from `loss_um` [µm] of steel over `area_m2` [m²]: 108.5 g per m² and 10 µm."""
    return np.asarray(np.asarray(area_m2, dtype=np.float64) * np.asarray(loss_um) * MAGNETITE_G_M2_PER_UM)


def magnetite_from_oxygen_g(oxygen_g: ArrayLike, hydroxide_share: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Magnetite [g] made with `oxygen_g` [g] of oxygen, `hydroxide_share` (0..1) of it by way of the hydroxide.

    Direct 3.618 g/g, by the hydroxide 4.824 g/g: a third more, because water gives up oxygen too.
    """
    share = np.asarray(hydroxide_share, dtype=np.float64)
    yield_g_g = MAGNETITE_PER_OXYGEN_DIRECT * (1.0 + share / 3.0)
    return np.asarray(np.asarray(oxygen_g, dtype=np.float64) * yield_g_g)


def oxygen_for_magnetite_g(magnetite_g: ArrayLike, hydroxide_share: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Oxygen [g] that `magnetite_g` [g] took, the inverse of `magnetite_from_oxygen_g`."""
    return np.asarray(np.asarray(magnetite_g, dtype=np.float64) / magnetite_from_oxygen_g(1.0, hydroxide_share))


def hydrogen_l(moles: ArrayLike, temp_c: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Volume [L] of hydrogen (ideal gas, 1 atm) at `temp_c` [°C]."""
    kelvin = np.asarray(temp_c, dtype=np.float64) + KELVIN_OFFSET_C
    return np.asarray(np.asarray(moles, dtype=np.float64) * GAS_J_MOL_K * kelvin / ATMOSPHERE_PA * L_PER_M3)


def schikorr_hydrogen_mol(oxygen_g: ArrayLike) -> NDArray[np.float64]:
    """Hydrogen [mol] set free when `oxygen_g` [g] makes magnetite by way of the hydroxide: 2/3 per mole of O2."""
    return np.asarray(np.asarray(oxygen_g, dtype=np.float64) / (2.0 * OXYGEN_G_MOL) * 2.0 / 3.0)


def anaerobic_hydrogen_mol(magnetite_g: ArrayLike) -> NDArray[np.float64]:
    """Hydrogen [mol] set free when magnetite [g] is made of iron and water alone: 3 Fe + 4 H2O → Fe3O4 + 4 H2."""
    return np.asarray(4.0 * np.asarray(magnetite_g, dtype=np.float64) / MAGNETITE_G_MOL)


def iron_g_m2(loss_um: ArrayLike) -> NDArray[np.float64]:
    """Iron [g/m²] in `loss_um` [µm] of steel: 78.5 g for 0.01 mm."""
    return np.asarray(np.asarray(loss_um, dtype=np.float64) * STEEL_KG_M3 * 1e-3)


def loss_um_from_magnetite(magnetite_g: ArrayLike, area_m2: ArrayLike) -> NDArray[np.float64]:
    """Steel lost [µm] when `magnetite_g` [g] came from `area_m2` [m²] of it, evenly."""
    return np.asarray(np.asarray(magnetite_g, dtype=np.float64) / np.asarray(area_m2) / MAGNETITE_G_M2_PER_UM)


def corrosion_current_ua_cm2(loss_um_year: ArrayLike) -> NDArray[np.float64]:
    """Current density [µA/cm²] of steel that loses `loss_um_year` [µm a year] as Fe²⁺: Faraday's law."""
    moles_m2_s = iron_g_m2(loss_um_year) / IRON_G_MOL / (DAYS_PER_YEAR * 86_400.0)
    return np.asarray(2.0 * FARADAY_C_MOL * moles_m2_s * 1e6 / 1e4)


def rinse_share_left(volumes: ArrayLike) -> NDArray[np.float64]:
    """Share of what was dissolved that is left after rinsing with `volumes` system volumes: e^(−n), well mixed.

    >>> round(float(rinse_share_left(3.0)), 2)
    0.05
    """
    return np.asarray(np.exp(-np.asarray(volumes, dtype=np.float64)))


def rinse_volumes_needed(conductivity_ratio: ArrayLike, closeness: float) -> NDArray[np.float64]:
    """System volumes to rinse until conductivity is within `closeness` [share] of the mains', well mixed.

    `conductivity_ratio` = system / mains before rinsing; 0 where it is close enough already.
    """
    excess = np.maximum(np.asarray(conductivity_ratio, dtype=np.float64) - 1.0, closeness)
    return np.asarray(np.log(excess / closeness))
