"""How much debris lies where before the visit, and what a survey sees of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.physics.corrosion import magnetite_from_loss_g
from synthetic_data.house import MICROBORE, ONE_PIPE, Flags, Floats, Houses, Ints
from synthetic_data.parameters import FoulingParameters
from synthetic_data.system import Systems

LARGE_FROM = 12
"""Emitters from which a system has the stronger pump (assumption)."""


@dataclass(frozen=True, slots=True)
class Fouling:
    """History and pools. Masses in kg dry, shape (jobs, 26); history of shape (jobs,)."""

    inhibitor: Flags
    filter: Flags
    topups: Floats
    years_since_clean: Ints
    cleaned_before: Flags
    has_sand: Flags
    pumps_over: Flags
    loose_kg: Floats
    consolidated_kg: Floats
    sand_kg: Floats

    @property
    def magnetite_kg(self) -> Floats:
        """Magnetite of each job before the visit [kg]."""
        return np.asarray((self.loose_kg + self.consolidated_kg).sum(axis=1))


@dataclass(frozen=True, slots=True)
class Survey:
    """Signs as a careful survey would find them, before anyone leaves a cell empty."""

    cold: Flags
    ph: Floats
    conductivity_us_cm: Floats
    turbidity_ntu: Floats
    iron_mg_l: Floats
    suspects_sand: Flags
    looks_bad: Floats


def loss_um(houses: Houses, years: Floats, topups: Floats, pumps_over: Flags, p: FoulingParameters) -> Floats:
    """Steel lost [µm] over `years`, before inhibitor, filter and scatter: the corrosion law of the README."""
    gain = np.where(houses.vented, p.vented_topup_gain, p.topup_gain)
    rate = p.loss_um_per_year * (1.0 + gain * np.log1p(topups))
    rate = rate * np.where(houses.vented, p.vented_factor, 1.0) * np.where(pumps_over, p.pumping_over_factor, 1.0)
    rate = rate * np.where(houses.layout == ONE_PIPE, p.one_pipe_factor, 1.0)
    rate = rate * np.where(houses.layout == MICROBORE, p.microbore_factor, 1.0)
    return np.asarray(rate * years**p.age_exponent)


def foul(rng: np.random.Generator, houses: Houses, p: FoulingParameters) -> Fouling:
    """Let every system corrode from its installation, or from its last clean, to the visit."""
    jobs = len(houses.age_years)
    inhibitor = rng.random(jobs) < np.where(houses.vented, 0.35, 0.6)
    has_filter = rng.random(jobs) < np.where(houses.age_years < 12, 0.5, 0.12)
    topups = np.round(np.exp(np.log(1.7) + 0.85 * rng.standard_normal(jobs)), 0).clip(0, 60)
    cleaned = rng.random(jobs) < np.clip((houses.age_years - 5) / 60, 0, 0.4)
    since = np.where(cleaned, np.ceil(houses.age_years * rng.uniform(0.15, 0.85, jobs)), houses.age_years)
    is_large = houses.emitter_count >= LARGE_FROM
    draws_air = rng.random(jobs) < np.where(is_large, p.pumping_over_large_share, p.pumping_over_share)
    pumps_over = houses.vented & draws_air
    age = houses.age_years.astype(np.float64)
    new_um = loss_um(houses, since, topups, pumps_over, p)
    old_um = loss_um(houses, age, topups, pumps_over, p) - new_um
    kept = np.exp(-topups / p.inhibitor_washout_topups)
    care = np.where(inhibitor, 1.0 - (1.0 - p.inhibitor_factor) * kept, 1.0)
    care = care * np.where(has_filter, p.filter_factor, 1.0)
    um = (new_um + p.left_by_last_clean * old_um) * care * np.exp(p.house_sd_log * rng.standard_normal(jobs))
    per_m2 = magnetite_from_loss_g(1.0, um) / 1000.0
    per_m2 = p.deposit_limit_kg_m2 * -np.expm1(-per_m2 / p.deposit_limit_kg_m2)
    total_kg = per_m2 * houses.area_m2.sum(axis=1)
    spread = np.exp(p.emitter_sd_log * rng.standard_normal(houses.present.shape))
    weight = houses.area_m2 * spread * p.upper_floor_factor ** houses.floor
    each_kg = total_kg[:, None] * weight / weight.sum(axis=1, keepdims=True)
    baked = p.consolidated_share + p.consolidated_per_year * since[:, None]
    baked = np.clip(baked + 0.1 * rng.standard_normal(each_kg.shape), 0.1, 0.88)
    has_sand = rng.random(jobs) < np.where(houses.vented, p.sand_share_vented, p.sand_share_sealed)
    sand_each = p.sand_kg_per_emitter * np.exp(0.8 * rng.standard_normal((jobs, 1))) * has_sand[:, None]
    sand = sand_each * spread[:, ::-1] * houses.present + p.background_non_magnetic * each_kg
    return Fouling(
        inhibitor=inhibitor, filter=has_filter, topups=topups, years_since_clean=since.astype(np.int64),
        cleaned_before=cleaned, has_sand=has_sand, pumps_over=pumps_over,
        loose_kg=each_kg * (1 - baked), consolidated_kg=each_kg * baked, sand_kg=sand,
    )  # fmt: skip


def survey(
    rng: np.random.Generator, houses: Houses, systems: Systems, fouling: Fouling, p: FoulingParameters
) -> Survey:
    """Look at every house: cold emitters, a water sample, and how bad the whole thing looks (0..1)."""
    jobs = len(houses.age_years)
    per_m = (fouling.loose_kg + fouling.consolidated_kg) / (houses.length_mm / 1000.0)
    chance = 1 / (1 + np.exp(-3.2 * np.log(np.maximum(per_m, 1e-6) / p.cold_kg_per_m)))
    cold = (rng.random(per_m.shape) < 0.02 + 0.94 * chance) & houses.present
    loose_g_l = fouling.loose_kg.sum(axis=1) * 1000.0 / systems.volume_l
    noise = rng.standard_normal((5, jobs))
    turbidity = 12.0 + 9.0 * loose_g_l * np.exp(0.45 * noise[0])
    iron = 0.8 + 1.1 * loose_g_l ** 0.9 * np.exp(0.5 * noise[1]) * np.where(fouling.inhibitor, 0.7, 1.0)
    ph = np.where(fouling.inhibitor, 8.2, 7.3) + 0.35 * noise[2]
    conductivity = houses.mains_us_cm * 1.05 + np.where(fouling.inhibitor, 750.0, 90.0) * np.exp(0.3 * noise[3])
    cold_share = cold.sum(axis=1) / houses.emitter_count
    score = 2.2 * cold_share + 0.35 * np.log(turbidity / 180) + 0.02 * (houses.age_years - 20.0)
    score = score + 0.15 * np.log1p(fouling.topups) - 1.05 + 0.4 * noise[4]
    suspects = rng.random(jobs) < np.where(fouling.has_sand, 0.55, 0.04)
    return Survey(
        cold=cold, ph=ph.clip(6.1, 10.5), conductivity_us_cm=conductivity, turbidity_ntu=turbidity, iron_mg_l=iron,
        suspects_sand=suspects, looks_bad=1 / (1 + np.exp(-1.6 * score)),
    )  # fmt: skip
