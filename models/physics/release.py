"""How fast settled debris comes loose, is lifted and settles again: elementary forms, one step at a time.

Pools: **consolidated** (baked on) → **loose** → **entrained** in the water → settled or caught. No source gives these
rates for heating sludge: every number that a caller puts in here is an `assumption`, and so is each form unless its
docstring names where it comes from. Rates per minute, temperatures in °C, stresses in Pa.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.physics.corrosion import GAS_J_MOL_K
from pipeline.contract.units import KELVIN_OFFSET_C

Floats = NDArray[np.float64]

REFERENCE_C = 50.0
"""Temperature at which rates are stated [°C]."""


def temperature_factor(temp_c: ArrayLike, activation_kj_mol: ArrayLike, reference_c: ArrayLike = REFERENCE_C) -> Floats:
    """Rate at `temp_c` against that at `reference_c`: Arrhenius, exp(E/R (1/T0 − 1/T)).

    Arrhenius' law for a single reaction; that it holds for softening rust is an `assumption`.

    >>> round(float(temperature_factor(60.0, 50.0)), 2)
    1.75
    """
    kelvin, reference_k = (np.asarray(v, dtype=np.float64) + KELVIN_OFFSET_C for v in (temp_c, reference_c))
    per_k = np.asarray(activation_kj_mol, dtype=np.float64) * 1000.0 / GAS_J_MOL_K
    return np.asarray(np.exp(per_k * (1.0 / reference_k - 1.0 / kelvin)))


def chemical_factor(dose_ratio: ArrayLike, gain: ArrayLike, exponent: ArrayLike = 0.5) -> Floats:
    """Rate with cleaner against that without: 1 + gain · (dose / label dose)^exponent. `assumption`.

    `exponent` below 1: half the dose does more than half the work. 1 without cleaner.
    """
    dose = np.maximum(np.asarray(dose_ratio, dtype=np.float64), 0.0)
    return np.asarray(1.0 + np.asarray(gain, dtype=np.float64) * dose ** np.asarray(exponent, dtype=np.float64))


def share_in_step(rate_per_min: ArrayLike, minutes: ArrayLike) -> Floats:
    """Share of a pool that leaves in a step at a constant rate: 1 − exp(−rate · minutes), 0..1 (first order)."""
    return np.asarray(-np.expm1(-np.asarray(rate_per_min, dtype=np.float64) * np.asarray(minutes)))


def excess_shear_rate_per_min(
    shear_pa: ArrayLike, threshold_pa: ArrayLike, rate_per_min: ArrayLike, exponent: ArrayLike = 1.0
) -> Floats:
    """Rate [1/min] at which loose debris is lifted: rate · (τ/τc − 1)^exponent above the threshold, 0 below.

    Partheniades (1965) for cohesive beds with exponent 1 (from memory); other exponents are an `assumption`.
    `rate_per_min` is that at twice the threshold.
    """
    excess = np.asarray(shear_pa, dtype=np.float64) / np.asarray(threshold_pa, dtype=np.float64) - 1.0
    lifted = np.maximum(excess, 0.0) ** np.asarray(exponent, dtype=np.float64)
    return np.asarray(np.asarray(rate_per_min) * np.where(excess > 0.0, lifted, 0.0))


def burst_rate_per_min(calm_per_min: ArrayLike, burst_per_min: ArrayLike, burst_share: ArrayLike) -> Floats:
    """Mean rate when for `burst_share` (0..1) of the time the flow is shaken. `assumption`.

    `burst_per_min` is the rate at the stress of a burst (`excess_shear_rate_per_min`).
    """
    share = np.asarray(burst_share, dtype=np.float64)
    return np.asarray((1.0 - share) * np.asarray(calm_per_min) + share * np.asarray(burst_per_min))


def settling_rate_per_min(
    settling_m_s: ArrayLike, depth_m: ArrayLike, shear_pa: ArrayLike, threshold_pa: ArrayLike
) -> Floats:
    """Rate [1/min] at which entrained debris settles: (ws / depth) · (1 − τ/τd) below the threshold, 0 above.

    Krone (1962) for cohesive sediment (from memory). `settling_m_s` fall velocity, `depth_m` how far it falls.
    """
    calm = np.maximum(1.0 - np.asarray(shear_pa, dtype=np.float64) / np.asarray(threshold_pa, dtype=np.float64), 0.0)
    return np.asarray(60.0 * np.asarray(settling_m_s, dtype=np.float64) / np.asarray(depth_m) * calm)


def consolidated_share(years: ArrayLike, per_year: ArrayLike) -> Floats:
    """Share of a deposit that has baked on, when it was laid down evenly over `years`, each bit hardening at a rate.

    1 − (1 − e^(−k t)) / (k t), first order in age; 0 for a new one. `assumption`.
    """
    aged = np.asarray(years, dtype=np.float64) * np.asarray(per_year, dtype=np.float64)
    safe = np.where(aged > 1e-6, aged, 1.0)
    return np.asarray(np.where(aged > 1e-6, 1.0 + np.expm1(-safe) / safe, 0.5 * aged))


def trap_efficiency(load: ArrayLike, capacity: ArrayLike, clean: ArrayLike, least: ArrayLike = 0.0) -> Floats:
    """Share that a magnet takes in one pass, falling as it fills: clean · (1 − (load / capacity)²). `assumption`.

    `load` and `capacity` in the same unit; never under `least` of `clean`.
    """
    filled = np.asarray(load, dtype=np.float64) / np.asarray(capacity, dtype=np.float64)
    return np.asarray(np.asarray(clean, dtype=np.float64) * np.clip(1.0 - filled**2, least, 1.0))
