"""Warming a system up: energy of the metal, loss of emitters, heat-up with loss, time steps, degree-hours."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.physics.emitters import PANEL_EXPONENT, RATED_EXCESS_K, output_ratio
from models.physics.water import density_kg_m3, specific_heat_j_kg_k
from pipeline.contract.units import J_PER_KWH, L_PER_M3, MINUTES_PER_HOUR, SECONDS_PER_MINUTE

STEEL_SPECIFIC_HEAT_J_KG_K = 490.0
"""Specific heat of mild steel near room temperature [J/(kg K)]."""

EMITTER_STEEL_KG_W = 0.0263
"""Steel of a panel emitter per rated output [kg/W]; default of the open Modelica Buildings library."""


def steel_energy_kwh(mass_kg: ArrayLike, rise_k: ArrayLike) -> NDArray[np.float64]:
    """Energy [kWh] to warm `mass_kg` of steel by `rise_k` [K].

    >>> round(float(steel_energy_kwh(300.0, 50.0)), 2)
    2.04
    """
    energy_j = np.asarray(mass_kg, dtype=np.float64) * STEEL_SPECIFIC_HEAT_J_KG_K * np.asarray(rise_k)
    return np.asarray(energy_j / J_PER_KWH)


def heat_up_minutes(
    capacity_kj_k: ArrayLike,
    loss_w_k: ArrayLike,
    power_w: ArrayLike,
    from_c: ArrayLike,
    to_c: ArrayLike,
    room_c: ArrayLike,
) -> NDArray[np.float64]:
    """Minutes to warm a lumped system from `from_c` to `to_c` [°C] against a loss to the room.

    `capacity_kj_k` [kJ/K], `loss_w_k` [W/K] ≥ 0, `power_w` [W]. Closed form
    t = −(C/UA) ln[(P − UA (T1 − Ta)) / (P − UA (T0 − Ta))]; infinite when the power cannot reach `to_c`.

    >>> round(float(heat_up_minutes(565.0, 100.0, 6000.0, 15.0, 60.0, 20.0)))
    111
    """
    capacity_j_k = np.asarray(capacity_kj_k, dtype=np.float64) * 1000.0
    loss, power, start, end, room = (np.asarray(v, dtype=np.float64) for v in (loss_w_k, power_w, from_c, to_c, room_c))
    spare_start_w, spare_end_w = power - loss * (start - room), power - loss * (end - room)
    with np.errstate(divide="ignore", invalid="ignore"):
        with_loss_s = -(capacity_j_k / loss) * np.log(spare_end_w / spare_start_w)
        without_s = capacity_j_k * (end - start) / power
    seconds = np.where(loss == 0.0, without_s, with_loss_s)
    return np.asarray(np.where(spare_end_w <= 0.0, np.inf, seconds) / SECONDS_PER_MINUTE)


def steel_capacity_kj_k(mass_kg: ArrayLike) -> NDArray[np.float64]:
    """Heat capacity [kJ/K] of `mass_kg` of steel."""
    return np.asarray(np.asarray(mass_kg, dtype=np.float64) * STEEL_SPECIFIC_HEAT_J_KG_K / 1000.0)


def emitter_steel_kg(rated_w: ArrayLike) -> NDArray[np.float64]:
    """Steel [kg] of panel emitters of that rated output [W at 50 K]: 26.3 kg/kW, a library's default (see constant)."""
    return np.asarray(np.asarray(rated_w, dtype=np.float64) * EMITTER_STEEL_KG_W)


def emitter_loss_w(
    rated_w: ArrayLike, emitter_c: ArrayLike, room_c: ArrayLike, exponent: float = PANEL_EXPONENT
) -> NDArray[np.float64]:
    """Heat [W] from emitters of that rated output [W at 50 K] at a mean temperature [°C]; EN 442, 0 when colder."""
    excess_k = np.asarray(emitter_c, dtype=np.float64) - np.asarray(room_c, dtype=np.float64)
    return np.asarray(np.asarray(rated_w, dtype=np.float64) * output_ratio(excess_k, exponent))


def equilibrium_excess_k(
    power_w: ArrayLike, rated_w: ArrayLike, exponent: float = PANEL_EXPONENT
) -> NDArray[np.float64]:
    """Mean excess temperature [K] at which emitters of that rated output [W] give off `power_w` [W]: EN 442 inverted.

    A heater cannot hold more than this with those emitters open.

    >>> round(float(equilibrium_excess_k(3000.0, 12000.0)), 1)
    17.2
    """
    share = np.asarray(power_w, dtype=np.float64) / np.asarray(rated_w, dtype=np.float64)
    return np.asarray(RATED_EXCESS_K * share ** (1.0 / exponent))


def lumped_step_c(
    temp_c: ArrayLike,
    capacity_kj_k: ArrayLike,
    loss_w_k: ArrayLike,
    power_w: ArrayLike,
    room_c: ArrayLike,
    seconds: ArrayLike,
) -> NDArray[np.float64]:
    """Temperature [°C] of a lumped system after `seconds` [s] of constant power: exact, at any step length.

    C dT/dt = P − UA (T − Ta); `capacity_kj_k` [kJ/K], `loss_w_k` [W/K] ≥ 0. For emitters, whose loss is not
    proportional to the excess, take UA = loss / excess at the start of the step.
    """
    temp, loss, power, room, dt = (
        np.asarray(v, dtype=np.float64) for v in (temp_c, loss_w_k, power_w, room_c, seconds)
    )
    capacity_j_k = np.asarray(capacity_kj_k, dtype=np.float64) * 1000.0
    decay = loss * dt / capacity_j_k
    # (1 − e^(−x)) / x, which goes to 1 as the loss goes to 0
    mean = np.where(decay > 1e-12, -np.expm1(-decay) / np.where(decay > 1e-12, decay, 1.0), 1.0)
    return np.asarray(temp + (power - loss * (temp - room)) * dt / capacity_j_k * mean)


def thermostat_power_w(
    temp_c: ArrayLike,
    set_point_c: ArrayLike,
    capacity_kj_k: ArrayLike,
    loss_w_k: ArrayLike,
    room_c: ArrayLike,
    seconds: ArrayLike,
    most_w: ArrayLike,
) -> NDArray[np.float64]:
    """Power [W] that brings a lumped system to its set point [°C] in `seconds` [s], within 0..`most_w` [W].

    Holds it there afterwards; the counterpart of `lumped_step_c`.
    """
    idle = lumped_step_c(temp_c, capacity_kj_k, loss_w_k, 0.0, room_c, seconds)
    per_w = lumped_step_c(0.0, capacity_kj_k, loss_w_k, 1.0, 0.0, seconds)
    wanted = (np.asarray(set_point_c, dtype=np.float64) - idle) / per_w
    return np.asarray(np.clip(wanted, 0.0, np.asarray(most_w, dtype=np.float64)))


def outlet_c(inlet_c: ArrayLike, flow_l_min: ArrayLike, loss_w_k: ArrayLike, room_c: ArrayLike) -> NDArray[np.float64]:
    """Temperature [°C] at which water leaves an emitter or pipe: Ta + (Tin − Ta) e^(−UA / (m c)); at rest the room's.

    `flow_l_min` [L/min], `loss_w_k` [W/K]; water at the inlet's temperature, 0–99 °C.
    """
    inlet, room = np.asarray(inlet_c, dtype=np.float64), np.asarray(room_c, dtype=np.float64)
    flow_kg_s = np.asarray(flow_l_min, dtype=np.float64) / (L_PER_M3 * SECONDS_PER_MINUTE) * density_kg_m3(inlet)
    carried_w_k = np.maximum(flow_kg_s * specific_heat_j_kg_k(inlet), 1e-12)
    return np.asarray(room + (inlet - room) * np.exp(-np.asarray(loss_w_k, dtype=np.float64) / carried_w_k))


def degree_hours(minutes: ArrayLike, temp_c: ArrayLike, above_c: float = 20.0) -> float:
    """Degree-hours [K·h] above `above_c`: trapezoid over readings at `minutes` (ascending); below counts 0.

    >>> degree_hours([0.0, 60.0], [20.0, 60.0])
    20.0
    """
    excess = np.maximum(np.asarray(temp_c, dtype=np.float64) - above_c, 0.0)
    return float(np.trapezoid(excess, np.asarray(minutes, dtype=np.float64)) / MINUTES_PER_HOUR)
