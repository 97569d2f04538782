"""Pressure of a heating system that warms, cools or loses water: what cooling explains, what a leak must.

Sealed: a vessel's gas is squeezed by the expansion of the water (Boyle's law, gas at the temperature of the
room). Open-vented: the water rises into the head tank, so heat hardly moves the pressure; it is the height of the
tank. Water only: the metal's own growth takes up about a tenth of it (pipes and steel, 35e-6 to 50e-6 per kelvin
by volume, from memory), which errs on the side of explaining too much by cooling.
Gauge pressures throughout; expansion from `models.physics.water` (IAPWS-IF97).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.physics.water import density_kg_m3
from pipeline.contract.units import L_PER_M3, PA_PER_BAR

ATMOSPHERE_BAR = 1.01325
GRAVITY_M_S2 = 9.80665
Floats = NDArray[np.float64]


def expansion_share(cold_c: ArrayLike, warm_c: ArrayLike) -> Floats:
    """Growth of water between two temperatures [°C, 0–99] as a share of its volume when cold; below 0 if it cools.

    >>> round(float(expansion_share(10.0, 60.0)), 4)
    0.0168
    """
    return np.asarray(density_kg_m3(cold_c) / density_kg_m3(warm_c) - 1.0)


def gas_volume_l(vessel_l: ArrayLike, precharge_bar: ArrayLike, pressure_bar: ArrayLike) -> Floats:
    """Gas [L] in a vessel of that size at a pressure; the whole vessel at or under its precharge. Gauge bar.

    >>> round(float(gas_volume_l(12.0, 1.0, 1.5)), 2)
    9.61
    """
    vessel, precharge = np.asarray(vessel_l, dtype=np.float64), np.asarray(precharge_bar, dtype=np.float64)
    squeezed = (precharge + ATMOSPHERE_BAR) / (np.asarray(pressure_bar, dtype=np.float64) + ATMOSPHERE_BAR)
    return np.asarray(vessel * np.minimum(squeezed, 1.0))


def pressure_after_bar(pressure_bar: ArrayLike, gas_l: ArrayLike, grown_l: ArrayLike) -> Floats:
    """Pressure [bar] after the water has grown by `grown_l` (shrunk: below 0) against `gas_l` of gas.

    Boyle: (p + p_atm)·V stays. Infinite where the water would fill the vessel: a safety valve opens long before.

    >>> round(float(pressure_after_bar(1.0, 8.0, 2.0)), 2)
    1.67
    """
    gas = np.asarray(gas_l, dtype=np.float64)
    left = gas - np.asarray(grown_l, dtype=np.float64)
    with np.errstate(divide="ignore"):
        after = (np.asarray(pressure_bar) + ATMOSPHERE_BAR) * gas / np.maximum(left, 0.0) - ATMOSPHERE_BAR
    return np.asarray(after, dtype=np.float64)


def cooling_drop_bar(
    pressure_bar: ArrayLike, from_c: ArrayLike, to_c: ArrayLike, volume_l: ArrayLike, gas_l: ArrayLike
) -> Floats:
    """Fall of pressure [bar] that cooling alone explains in a sealed system; below 0 when it warms.

    `volume_l`: water in the system [L] and `gas_l`: gas in its vessel [L], both at `from_c` and `pressure_bar`.

    >>> round(float(cooling_drop_bar(1.8, 60.0, 40.0, 100.0, 8.0)), 2)
    0.29
    """
    grown_l = np.asarray(volume_l, dtype=np.float64) * expansion_share(from_c, to_c)
    return np.asarray(np.asarray(pressure_bar, dtype=np.float64) - pressure_after_bar(pressure_bar, gas_l, grown_l))


def water_lost_l(
    from_bar: ArrayLike, to_bar: ArrayLike, from_c: ArrayLike, to_c: ArrayLike, volume_l: ArrayLike, gas_l: ArrayLike
) -> Floats:
    """Water [L] that must have left a sealed system for its pressure to go from one to the other; below 0: gained.

    What cooling explains is taken off. `volume_l`, `gas_l`: water in the system and gas in its vessel [L] at
    `from_c`, `from_bar`.
    """
    gas = np.asarray(gas_l, dtype=np.float64)
    now = gas * (np.asarray(from_bar) + ATMOSPHERE_BAR) / (np.asarray(to_bar) + ATMOSPHERE_BAR)
    return np.asarray(now - gas + np.asarray(volume_l, dtype=np.float64) * expansion_share(from_c, to_c))


SMALL_VESSEL_L = 15.0
"""Up to this size the reserve of water is a share of the vessel, above it of the system (EN 12828, from memory)."""


def vessel_size_l(
    volume_l: float, warm_c: float, *, cold_c: float = 10.0, precharge_bar: float, final_bar: float
) -> float:
    """Vessel [L] for a sealed system, Vn = (Ve + Vwr)(pe + 1)/(pe − p0), gauge bar, by EN 12828 Annex D (from memory).

    Water reserve Vwr: a fifth of a vessel of up to 15 L; of a larger one 0.5 % of the system, at least 3 L. `final_bar`
    is the highest working pressure, half a bar under the safety valve or more. ValueError unless it is above
    `precharge_bar`.

    >>> round(vessel_size_l(100.0, 80.0, precharge_bar=1.0, final_bar=2.5), 1)
    12.5
    """
    if final_bar <= precharge_bar:
        raise ValueError(f"final_bar must be above precharge_bar; they are {final_bar:g} and {precharge_bar:g}.")
    grown_l = volume_l * float(expansion_share(cold_c, warm_c))
    usable = (final_bar - precharge_bar) / (final_bar + 1.0)
    small_l = grown_l / (usable - 0.2) if usable > 0.2 else np.inf
    if small_l <= SMALL_VESSEL_L:
        return float(small_l)
    return max(SMALL_VESSEL_L, (grown_l + max(0.005 * volume_l, 3.0)) / usable)


def open_vented_drop_bar(
    head_m: ArrayLike, from_c: ArrayLike, to_c: ArrayLike, volume_l: ArrayLike, tank_m2: ArrayLike
) -> Floats:
    """Fall of pressure [bar] by cooling under an open head tank: the level sinks, the column grows heavier.

    `head_m`: water above the gauge [m]; `tank_m2`: floor of the head tank [m²]. Under a hundredth of a bar: a gauge
    does not show it, so under an open tank every fall that it shows has another cause.

    >>> round(float(open_vented_drop_bar(5.0, 60.0, 20.0, 100.0, 0.2)), 4)
    -0.0066
    """
    warm, cold = density_kg_m3(from_c), density_kg_m3(to_c)
    sunk_m = np.asarray(volume_l, dtype=np.float64) * -expansion_share(from_c, to_c) / L_PER_M3 / np.asarray(tank_m2)
    head = np.asarray(head_m, dtype=np.float64)
    return np.asarray(GRAVITY_M_S2 * (head * warm - (head - sunk_m) * cold) / PA_PER_BAR)
