"""Planted job records: a known formula, noise that grows with age, odd missing answers. No simulator."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np
import pandas as pd
import pytest

if TYPE_CHECKING:
    from models.quote.model.quote_model import QuoteModel


@dataclass(frozen=True)
class Planted:
    """Frames as `ftr_quote`, `ftr_outcome` and `ftr_volume` of invented jobs."""

    features: pd.DataFrame
    outcomes: pd.DataFrame
    volumes: pd.DataFrame


def _features(n: int, rng: np.random.Generator, firm_id: str) -> pd.DataFrame:
    emitters = rng.integers(4, 22, n)
    age = rng.uniform(2, 50, n).round()
    cleaned = rng.random(n) < 0.3
    water = rng.random(n) < 0.6
    cold = rng.binomial(emitters, np.clip(age / 120, 0.02, 0.6))
    volume = emitters * rng.uniform(6, 11, n) + 15
    iron = np.where(water, np.exp(0.04 * age + rng.normal(0, 0.4, n)), np.nan)
    return pd.DataFrame(
        {
            "firm_id": firm_id,
            "job_id": [f"J{i:05d}" for i in range(n)],
            "visit_date": pd.Timestamp("2029-01-01") + pd.to_timedelta(np.sort(rng.integers(0, 900, n)), "D"),
            "is_simulated": firm_id.startswith("sim-"),
            "system_volume_l": volume,
            "volume_spread_share": rng.uniform(0.2, 0.5, n),
            "emitter_count": emitters,
            "cold_count": cold,
            "cold_share": cold / emitters,
            "floor_count": rng.integers(1, 4, n),
            "property_kind": rng.choice(["house", "flat", "terrace"], n),
            "system_type": rng.choice(["open_vented", "sealed"], n),
            "pipe_layout": rng.choice(["two_pipe", "one_pipe", None], n, p=[0.7, 0.2, 0.1]),
            "age_years": np.where(rng.random(n) < 0.1, np.nan, age),
            "years_since_clean": np.where(cleaned, age / 3, age),
            "was_cleaned_before": cleaned,
            "inhibitor_at_survey": rng.choice([True, False, None], n),
            "filter_at_survey": rng.random(n) < 0.2,
            "known_building_debris": rng.random(n) < 0.15,
            "topups_per_year": rng.poisson(1.5, n).astype(float),
            "survey_iron_mg_l": iron,
            "water_known": water,
            "crew_size": rng.integers(1, 3, n),
            "predose_days": rng.choice([0.0, 0.0, 7.0, 21.0], n),
            "heat_source": rng.choice(["none", "boiler", "both"], n),
            "isolation": rng.choice(["one_at_a_time", "all_open"], n),
        }
    )


def _outcomes(f: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    n = len(f)
    age = f["years_since_clean"].to_numpy()
    vented = (f["system_type"] == "open_vented").to_numpy()
    leaky = f["topups_per_year"].to_numpy() > 2
    # a step and a product: what a straight line on the log scale cannot follow
    mass = 0.05 * f["emitter_count"] * (1 + 1.5 * (age > 15)) * (1 + 2.0 * (vented & leaky)) * (0.5 + age / 40)
    house = rng.normal(0, 1, n)
    magnetite = mass * np.exp((0.2 + 0.4 * vented) * house)
    flush = (60 + 16 * f["emitter_count"] + 25 * magnetite) * np.exp(rng.normal(0, 0.15, n))
    site = flush + 70 + rng.uniform(0, 30, n)
    other = 0.1 * f["emitter_count"] * (1 + 6 * f["known_building_debris"]) * rng.gamma(1.5, 0.5, n)
    return pd.DataFrame(
        {
            "firm_id": f["firm_id"],
            "job_id": f["job_id"],
            "magnetite_kg": magnetite,
            "non_magnetic_kg": np.where(rng.random(n) < 0.15, 0.0, other),
            "flush_minutes": flush,
            "site_minutes": site,
            "is_second_day": site > 480,
        }
    )


def _volumes(f: pd.DataFrame) -> pd.DataFrame:
    mid = f["system_volume_l"]
    return pd.DataFrame(
        {
            "firm_id": f["firm_id"],
            "job_id": f["job_id"],
            "system_volume_low_l": mid * 0.85,
            "system_volume_l": mid,
            "system_volume_high_l": mid * 1.2,
            "system_volume_method": "emitters_and_pipe_rule",
        }
    )


Planter = Callable[..., Planted]
"""The generator, as a fixture gives it."""


def plant(n: int, seed: int = 1, firm_id: str = "own") -> Planted:
    """n invented jobs over about 900 days."""
    rng = np.random.default_rng(seed)
    features = _features(n, rng, firm_id)
    return Planted(features, _outcomes(features, rng), _volumes(features))


@pytest.fixture(scope="session")
def planter() -> Planter:
    """The generator itself."""
    return plant


@pytest.fixture(scope="session")
def past() -> Planted:
    """1,000 planted jobs, made once; never changed by a test."""
    return plant(1000)


@pytest.fixture(scope="session")
def past_model(past: Planted, made_once: Callable[[str, Callable[[Path], None]], Path]) -> QuoteModel:
    """The model of those jobs, trained once for all workers. Read only."""
    from models.quote.train import train_quote

    def train(folder: Path) -> None:
        (folder / "model").write_bytes(pickle.dumps(train_quote(past.features, past.outcomes)))

    return cast("QuoteModel", pickle.loads((made_once("past-model", train) / "model").read_bytes()))
