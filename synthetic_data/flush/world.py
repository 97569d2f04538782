"""Everything about a chunk of jobs that stays the same during the flush, and the state when the flow begins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.physics.heat import STEEL_SPECIFIC_HEAT_J_KG_K
from models.physics.release import REFERENCE_C, temperature_factor
from pipeline.contract.units import HOURS_PER_DAY, KELVIN_OFFSET_C
from synthetic_data.crew.crew import ALL_OPEN, GROUPS, Engineers, Plans
from synthetic_data.flush.defects import Defects
from synthetic_data.flush.flush_state import State
from synthetic_data.flush.network import Flows, build_circuits, solve_flows
from synthetic_data.flush.release import OTHER, Tables, build_tables, class_shares
from synthetic_data.house.fouling import Fouling
from synthetic_data.house.house import Flags, Floats, Houses, Ints
from synthetic_data.house.system import Systems
from synthetic_data.parameters import Parameters, ReleaseParameters

WATER_J_L_K = 4150.0
"""Heat of a litre of water near 45 °C [J/(L K)]."""

PIPE_METAL_FACTOR = 1.12
"""Water in pipes, source and machine with the metal round it, against the water alone (assumption)."""

GROUP_OF = 3
UNHEATED_C = 20.0
LOOSENED_SHARES = np.array([0.2, 0.4, 0.4])
"""Classes of what comes loose from the baked-on layer: fine, medium, flakes (assumption)."""


@dataclass(frozen=True, slots=True)
class World:
    """Rows are the chunk's jobs. `dose`: multiplier of loosening by the chemical; `cold_bar` before the flush;
    `is_open`: a sealed system on a machine whose tank is open, so without pressure."""

    houses: Houses
    systems: Systems
    plans: Plans
    parameters: Parameters
    defects: Defects
    flows: Flows
    tables: Tables
    station_of: Ints
    stations: Ints
    magnet_kg: Floats
    is_open: Flags
    heat_w: Floats
    dose: Floats
    cold_bar: Floats
    weigh_noise: Floats
    reading_start: Ints
    weekday: Ints


def prepare(
    rng: np.random.Generator,
    houses: Houses,
    systems: Systems,
    plans: Plans,
    staff: Engineers,
    parameters: Parameters,
    weekday: Ints,
    defects: Defects | None = None,
) -> World:
    """Turn plans into what the minutes need: stations in order, solved flows, rates, heat."""
    p, jobs = parameters.flush, len(weekday)
    defects = Defects.none(jobs) if defects is None else defects
    rank = np.argsort(np.argsort(plans.order_key, axis=1), axis=1)
    size = np.where(plans.isolation == GROUPS, GROUP_OF, np.where(plans.isolation == ALL_OPEN, 99, 1))
    station_of, stations = rank // size[:, None], -(-houses.emitter_count // size)
    circuits, faulty_row, job = build_circuits(houses, systems, plans, staff, parameters, defects)
    flows = solve_flows(circuits, faulty_row, job, houses.present, station_of, stations)
    tables = build_tables(houses, plans, flows, station_of, p.practice_effect, parameters.release)
    boiler_w = np.minimum(houses.boiler_kw, p.boiler_flush_kw) * 1000.0 * np.isin(plans.heat_source, (1, 3))
    is_open = staff.open_tank[plans.engineer] & ~houses.vented
    boiler_w = np.where(is_open, 0.0, boiler_w)  # no pressure, so that the boiler locks out
    cold_bar = np.where(houses.vented, p.vented_bar, p.fill_bar + 0.15 * rng.standard_normal(jobs).clip(-2, 2))
    return World(
        houses,
        systems,
        plans,
        parameters,
        defects,
        flows,
        tables,
        station_of,
        stations,
        staff.magnet_kg[plans.engineer],
        is_open,
        boiler_w + 1000.0 * plans.heater_kw,
        chemical_factor(plans, parameters.release) ** p.practice_effect,
        cold_bar,
        rng.standard_normal((jobs, 256)),
        rng.integers(2, 9, jobs),
        weekday,
    )


def chemical_factor(plans: Plans, p: ReleaseParameters) -> Floats:
    """What the cleaner does to loosening in the flush, against long contact at label dose: it grows with the days."""
    contact = -np.expm1(-plans.predose_days / p.contact_days)
    return np.asarray(plans.dose_ratio**p.dose_exponent * (p.fresh_chemical + (1.0 - p.fresh_chemical) * contact))


def softened_share(days: Ints, hours_a_day: Floats, heated_c: float, dose: Floats, p: ReleaseParameters) -> Floats:
    """Share of the consolidated debris that a pre-dose of so many days makes loose, before anyone flushes.

    The loosening law without flow, at the house's own hours of heating a day, while the chemical is used up.
    """
    warm = hours_a_day / HOURS_PER_DAY
    factor = warm * temperature_factor(heated_c, p.loosen_kj_mol)
    factor = factor + (1.0 - warm) * temperature_factor(UNHEATED_C, p.loosen_kj_mol)
    per_day = p.loosen_per_min * p.loosen_floor * 60.0 * HOURS_PER_DAY * factor * dose
    return np.asarray(-np.expm1(-per_day * p.chemical_days * -np.expm1(-days / p.chemical_days)))


def first_state(world: World, fouling: Fouling, start_c: Floats) -> State:
    """The state when the flow begins: chemical has softened part, everything stands at `start_c`."""
    p, plans, houses = world.parameters, world.plans, world.houses
    jobs, shape = len(plans.engineer), houses.present.shape
    strength = plans.dose_ratio ** (p.release.dose_exponent * p.flush.practice_effect)
    soft = softened_share(plans.predose_days, world.systems.heating_hours, p.house.heating_c, strength, p.release)
    softened = fouling.consolidated_kg * (soft * p.flush.practice_effect)[:, None]
    bed = np.zeros((jobs, OTHER + 1, shape[1]))
    bed[:] = fouling.loose_kg[:, None, :] * class_shares(p.release)[:, None]
    bed[:, :OTHER] += softened[:, None, :] * LOOSENED_SHARES[:, None]
    bed[:, OTHER] = fouling.sand_kg
    steel_j_k = houses.area_m2 * p.house.steel_kg_m2 * STEEL_SPECIFIC_HEAT_J_KG_K
    return State.start(
        shape,
        row=np.arange(jobs),
        offset_min=plans.start_min,
        rinse_left=plans.rinse_minutes,
        temp_c=start_c,
        return_c=start_c,
        chemical=np.ones(jobs),
        emitter_c=np.repeat(start_c[:, None], shape[1], axis=1),
        emitter_j_k=np.maximum(houses.contents_l, 0.1) * WATER_J_L_K + steel_j_k,
        rated_w=houses.output_w,
        bed=bed,
        consolidated=fouling.consolidated_kg - softened,
    )


def inverse_kelvin(temp_c: Floats) -> Floats:
    """1/T0 − 1/T [1/K]: what an activation energy is multiplied with, T0 being the reference of `release`."""
    return np.asarray(1.0 / (REFERENCE_C + KELVIN_OFFSET_C) - 1.0 / (temp_c + KELVIN_OFFSET_C))
