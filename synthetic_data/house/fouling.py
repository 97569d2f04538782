"""Fouling over the years: oxygen in by named routes, iron lost, magnetite made, carried, settled, consolidated."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.physics import corrosion, oxygen, release, sediment
from models.physics.emitters import bottom_header_velocity_m_s
from pipeline.contract.units import G_PER_KG, SECONDS_PER_MINUTE
from synthetic_data.house.house import PANEL_COUNT, Flags, Floats, Houses, Ints
from synthetic_data.house.system import Systems
from synthetic_data.parameters import FoulingParameters

LARGE_FROM = 12
"""Emitters from which a system has the stronger pump (assumption)."""

HEADER_BORE_MM = 20.0
"""Hydraulic diameter of the bottom header of a panel (assumption: 30 mm × 15 mm inside)."""

DAILY_C, WATER_J_L_K = 50.0, 4150.0
CARRIED_UM = 60.0
"""Grains that daily service carries from emitter to emitter (assumption)."""


@dataclass(frozen=True, slots=True)
class Fouling:
    """History and pools. Masses in kg dry, shape (jobs, 26); history of shape (jobs,).

    `oxygen_g_year` by the routes of `models.physics.oxygen`; `made_kg_year` magnetite made in the last year, had it
    no inhibitor and no filter.
    """

    inhibitor: Flags
    filter: Flags
    topups: Floats
    years_since_clean: Ints
    cleaned_before: Flags
    has_sand: Flags
    pumps_over: Flags
    oxygen_g_year: oxygen.OxygenRoutes
    made_kg_year: Floats
    loose_kg: Floats
    consolidated_kg: Floats
    sand_kg: Floats

    @property
    def magnetite_kg(self) -> Floats:
        """Magnetite of each job before the visit [kg]."""
        return np.asarray((self.loose_kg + self.consolidated_kg).sum(axis=1))


@dataclass(frozen=True, slots=True)
class History:
    """What became of a system before the visit, shape (jobs,)."""

    inhibitor: Flags
    filter: Flags
    topups: Floats
    cleaned: Flags
    since_years: Floats
    pumps_over: Flags
    has_sand: Flags


def draw_history(rng: np.random.Generator, houses: Houses, p: FoulingParameters) -> History:
    """Treatment, top-ups, last clean, air by the vent, building work."""
    jobs, age, vented = len(houses.age_years), houses.age_years, houses.vented
    inhibitor = rng.random(jobs) < np.where(vented, 0.35, 0.6)
    has_filter = rng.random(jobs) < np.where(age < 12, 0.5, 0.12)
    topups = np.round(np.exp(np.log(1.7) + 0.85 * rng.standard_normal(jobs)), 0).clip(0, 60)
    cleaned = rng.random(jobs) < np.clip((age - 5) / 60, 0, 0.4)
    since = np.where(cleaned, np.ceil(age * rng.uniform(0.15, 0.85, jobs)), age)
    is_large = houses.emitter_count >= LARGE_FROM
    draws_air = rng.random(jobs) < np.where(is_large, p.pumping_over_large_share, p.pumping_over_share)
    has_sand = rng.random(jobs) < np.where(vented, p.sand_share_vented, p.sand_share_sealed)
    return History(inhibitor, has_filter, topups, cleaned, since.astype(np.float64), vented & draws_air, has_sand)


def oxygen_routes(houses: Houses, systems: Systems, history: History, p: FoulingParameters) -> oxygen.OxygenRoutes:
    """Oxygen a year [g] by route, without scatter.

    Fills and top-ups at the solubility of their temperature; water swapped with the head tank, by the cold
    feed and over the vent; through plastic pipe; with air at glands, vents and losses of pressure.
    """
    fills = oxygen.fill_oxygen_g(history.topups * p.topup_l, p.fill_c)
    swapped_l = p.tank_turnover * systems.volume_l * houses.vented
    over_l = p.pumping_over_day * p.heating_days * systems.volume_l * history.pumps_over
    rate = np.where(systems.has_barrier, p.barrier_g_m3_day, p.no_barrier_g_m3_day)
    plastic = oxygen.plastic_oxygen_g(systems.plastic_l, p.heating_days, rate_g_m3_day=rate)
    drawn = p.leak_g_topup * history.topups * systems.volume_l / 100.0
    air = p.ingress_g_emitter * houses.emitter_count + np.where(houses.vented, 0.0, drawn)
    tank = oxygen.fill_oxygen_g(swapped_l + over_l, p.tank_c)
    return oxygen.OxygenRoutes(fills, tank, plastic, np.asarray(air, dtype=np.float64))


def grown_kg(start_kg: Floats, made_kg_year: Floats, years: Floats, limit_kg: Floats) -> Floats:
    """Magnetite after `years` of corrosion under growing films: dm/dt = made · exp(−m / limit), closed form [kg].

    `made_kg_year` on bare steel; `limit_kg` the film at which the rate has fallen by a factor e (assumption).
    """
    return np.asarray(limit_kg * np.log(np.exp(start_kg / limit_kg) + made_kg_year * years / limit_kg))


def care_factor(history: History, p: FoulingParameters) -> Floats:
    """What inhibitor (washed out by top-ups) and a filter leave of the sludge, 0..1."""
    kept = np.exp(-history.topups / p.inhibitor_washout_topups)
    care = np.where(history.inhibitor, 1.0 - (1.0 - p.inhibitor_factor) * kept, 1.0)
    return np.asarray(care * np.where(history.filter, p.filter_factor, 1.0))


def settling_weight(houses: Houses, p: FoulingParameters) -> Floats:
    """Share of the house's sludge by emitter, before chance (jobs, 26).

    Part stays where it was made, by wetted steel. The rest goes with the daily flow and settles where
    the bottom header is too slow to keep it moving (Soulsby's threshold), less on upper floors.
    """
    flow_l_min = houses.output_w * SECONDS_PER_MINUTE / (WATER_J_L_K * p.design_drop_k)
    speed = bottom_header_velocity_m_s(flow_l_min, PANEL_COUNT[houses.kind], houses.length_mm)
    moves = sediment.movable_share(
        sediment.wall_shear_pa(speed, HEADER_BORE_MM, DAILY_C),
        CARRIED_UM / 1000.0,
        0.9,
        sediment.DENSITY_KG_M3["magnetite"],
        DAILY_C,
    )
    brought = flow_l_min * (1.0 - moves) * p.upper_floor_factor**houses.floor
    own = houses.area_m2 / houses.area_m2.sum(axis=1, keepdims=True)
    return np.asarray(p.made_in_place * own + (1 - p.made_in_place) * brought / brought.sum(axis=1, keepdims=True))


def foul(rng: np.random.Generator, houses: Houses, systems: Systems, p: FoulingParameters) -> Fouling:
    """Let every system corrode from its installation, or from its last clean, to the visit."""
    history = draw_history(rng, houses, p)
    routes = oxygen_routes(houses, systems, history, p)
    scatter = np.exp(p.house_sd_log * rng.standard_normal(len(history.topups)))
    bare_kg = corrosion.magnetite_from_oxygen_g(routes.total_g * scatter, p.schikorr_share) / G_PER_KG
    fill_kg = (
        corrosion.magnetite_from_oxygen_g(oxygen.fill_oxygen_g(systems.volume_l, p.fill_c), p.schikorr_share) / G_PER_KG
    )
    made, limit = bare_kg * care_factor(history, p), p.film_kg_m2 * houses.area_m2.sum(axis=1)
    before = grown_kg(fill_kg, made, houses.age_years - history.since_years, limit)
    start = np.where(history.cleaned, p.left_by_last_clean * before + fill_kg, before)
    total_kg = grown_kg(start, made, history.since_years, limit)
    spread = np.exp(p.emitter_sd_log * rng.standard_normal(houses.present.shape))
    weight = settling_weight(houses, p) * spread * houses.present
    each_kg = total_kg[:, None] * weight / weight.sum(axis=1, keepdims=True)
    baked = release.consolidated_share(history.since_years, p.bake_per_year)[:, None]
    baked = np.clip(baked + p.bake_sd * rng.standard_normal(each_kg.shape), 0.05, 0.92)
    sand_each = p.sand_kg_per_emitter * np.exp(0.8 * rng.standard_normal((len(start), 1)))
    sand = sand_each * history.has_sand[:, None] * spread[:, ::-1] * houses.present
    background = p.background_non_magnetic * np.exp(p.background_sd_log * rng.standard_normal((len(start), 1)))
    return Fouling(
        inhibitor=history.inhibitor,
        filter=history.filter,
        topups=history.topups,
        years_since_clean=history.since_years.astype(np.int64),
        cleaned_before=history.cleaned,
        has_sand=history.has_sand,
        pumps_over=history.pumps_over,
        oxygen_g_year=routes,
        made_kg_year=bare_kg * np.exp(-total_kg / limit),
        loose_kg=each_kg * (1 - baked),
        consolidated_kg=each_kg * baked,
        sand_kg=sand + background * each_kg,
    )
