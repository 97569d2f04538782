"""Warming a system up: energy of the metal, heat-up with loss, degree-hours."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.units import J_PER_KWH, MINUTES_PER_HOUR

STEEL_SPECIFIC_HEAT_J_KG_K = 490.0
"""Specific heat of mild steel near room temperature [J/(kg K)]."""


def steel_energy_kwh(mass_kg: ArrayLike, rise_k: ArrayLike) -> NDArray[np.float64]:
    """Energy [kWh] to warm `mass_kg` of steel by `rise_k` [K].

    >>> round(float(steel_energy_kwh(300.0, 50.0)), 2)
    2.04
    """
    energy_j = np.asarray(mass_kg, dtype=np.float64) * STEEL_SPECIFIC_HEAT_J_KG_K * np.asarray(rise_k)
    return np.asarray(energy_j / J_PER_KWH)


def heat_up_minutes(
    capacity_kj_k: float, loss_w_k: float, power_w: float, from_c: float, to_c: float, room_c: float
) -> float:
    """Minutes to warm a lumped system from `from_c` to `to_c` [°C] against a loss to the room.

    `capacity_kj_k` [kJ/K], `loss_w_k` [W/K], `power_w` [W]. Closed form
    t = −(C/UA) ln[(P − UA (T1 − Ta)) / (P − UA (T0 − Ta))]; infinite when the power cannot hold `to_c`.

    >>> round(heat_up_minutes(565.0, 100.0, 6000.0, 15.0, 60.0, 20.0))
    111
    """
    capacity_j_k = capacity_kj_k * 1000.0
    if loss_w_k == 0.0:
        return capacity_j_k * (to_c - from_c) / power_w / 60.0
    spare_end_w = power_w - loss_w_k * (to_c - room_c)
    spare_start_w = power_w - loss_w_k * (from_c - room_c)
    if spare_end_w <= 0.0:
        return float("inf")
    return float(-(capacity_j_k / loss_w_k) * np.log(spare_end_w / spare_start_w) / 60.0)


def degree_hours(minutes: ArrayLike, temp_c: ArrayLike, above_c: float = 20.0) -> float:
    """Degree-hours [K·h] above `above_c`: trapezoid over readings at `minutes` (ascending); below counts 0.

    >>> degree_hours([0.0, 60.0], [20.0, 60.0])
    20.0
    """
    excess = np.maximum(np.asarray(temp_c, dtype=np.float64) - above_c, 0.0)
    return float(np.trapezoid(excess, np.asarray(minutes, dtype=np.float64)) / MINUTES_PER_HOUR)
