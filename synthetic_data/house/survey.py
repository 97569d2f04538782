"""What a careful survey finds: cold emitters by debris and shape, a water sample from the state of the system."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from models.physics.emitters import HEADER_AREA_MM2
from pipeline.contract.units import G_PER_KG
from synthetic_data.house.fouling import Fouling
from synthetic_data.house.house import PANEL_COUNT, Flags, Floats, Houses
from synthetic_data.house.system import Systems
from synthetic_data.parameters import FoulingParameters

FILL_SPREAD_LOG = 0.45
"""Spread of the filling at which an emitter is noticed as cold: habit of the valves, hand of the surveyor."""


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


def header_fill(houses: Houses, fouling: Fouling, bulk_kg_l: float) -> Floats:
    """Settled debris as a share of the volume of the bottom headers (jobs, 26); over 1 it stands in the channels."""
    header_l = HEADER_AREA_MM2 * PANEL_COUNT[houses.kind] * houses.length_mm * 1e-6
    debris_kg = fouling.loose_kg + fouling.consolidated_kg + fouling.sand_kg
    return np.asarray(debris_kg / bulk_kg_l / header_l)


def _cold(rng: np.random.Generator, houses: Houses, fouling: Fouling, p: FoulingParameters) -> Flags:
    fill = np.maximum(header_fill(houses, fouling, p.bulk_kg_l), 1e-9)
    chance = 0.02 + 0.94 * ndtr(np.log(fill / p.cold_fill_share) / FILL_SPREAD_LOG)
    return np.asarray((rng.random(fill.shape) < chance) & houses.present)


def survey(
    rng: np.random.Generator, houses: Houses, systems: Systems, fouling: Fouling, p: FoulingParameters
) -> Survey:
    """Look at every house: cold emitters, a water sample, and how bad the whole thing looks (0..1).

    Turbidity and iron follow loose sludge per litre and how the sample was drawn; pH and conductivity follow what
    is left of the inhibitor and the mains; each with the error of its instrument.
    """
    jobs = len(houses.age_years)
    cold = _cold(rng, houses, fouling, p)
    loose_g_l = fouling.loose_kg.sum(axis=1) * G_PER_KG / systems.volume_l
    z = rng.standard_normal((7, jobs))
    drawn = np.exp(p.sampling_sd_log * z[0])
    turbidity = (12.0 + 9.0 * loose_g_l * drawn) * np.exp(p.turbidity_error * z[1])
    iron = 0.8 + 1.1 * loose_g_l**0.9 * drawn * np.where(fouling.inhibitor, 0.7, 1.0)
    iron = iron * np.exp(0.25 * z[2] + p.iron_error * z[3])
    kept = fouling.inhibitor * np.exp(-fouling.topups / p.inhibitor_washout_topups)
    ph = 7.3 + 1.0 * kept + 0.3 * z[4] + p.ph_error * rng.standard_normal(jobs)
    conductivity = houses.mains_us_cm * 1.05 + (90.0 + 750.0 * kept) * np.exp(0.3 * z[5])
    conductivity = conductivity * (1 + p.conductivity_error * rng.standard_normal(jobs))
    cold_share = cold.sum(axis=1) / houses.emitter_count
    score = 2.2 * cold_share + 0.35 * np.log(turbidity / 180) + 0.02 * (houses.age_years - 20.0)
    score = score + 0.15 * np.log1p(fouling.topups) - 1.05 + 0.4 * z[6]
    suspects = rng.random(jobs) < np.where(fouling.has_sand, 0.55, 0.04)
    return Survey(
        cold=cold,
        ph=ph.clip(6.1, 10.5),
        conductivity_us_cm=conductivity,
        turbidity_ntu=turbidity,
        iron_mg_l=iron,
        suspects_sand=suspects,
        looks_bad=1 / (1 + np.exp(-1.6 * score)),
    )
