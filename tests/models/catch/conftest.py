"""Jobs written by hand: weighings of a planted curve, whole system or one emitter at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

import numpy as np
import pytest

from models.catch.watch import EmitterFacts, HandWeighing, JobCatch, job_catch_by_hand

START = datetime(2031, 3, 4, 9, 0)
Build = Callable[..., JobCatch]


@pytest.fixture
def by_hand() -> Build:
    """(minutes, emitter or None, grams dry) rows → a job in progress, 60 an hour, `emitters` of 5 L each."""

    def build(rows: Sequence[tuple[float, int | None, float]], emitters: int = 0, trap: str = "magnet") -> JobCatch:
        return job_catch_by_hand(
            [HandWeighing(minutes, number, grams, "dry", trap) for minutes, number, grams in rows],
            started_at=START,
            wet_dry_ratio=2.0,
            emitters=[EmitterFacts(number, "panel_11", 5.0) for number in range(1, emitters + 1)],
            hourly_cost=60.0,
            currency="EUR",
        )

    return build


@pytest.fixture
def house(by_hand: Build) -> Build:
    """A whole-system flush: `catches` every 20 minutes of a curve with 4 kg and 80 minutes, lumpy by `cv`."""

    def build(catches: int, *, kg: float = 4.0, tau: float = 80.0, cv: float = 0.0, seed: int = 0) -> JobCatch:
        minutes = np.arange(1, catches + 1) * 20.0
        grams = 1000.0 * kg * np.diff(-np.expm1(-minutes / tau), prepend=0.0)
        lumps = np.exp(cv * np.random.default_rng(seed).standard_normal(catches) - cv * cv / 2)
        return by_hand([(float(t), None, float(g)) for t, g in zip(minutes, grams * lumps, strict=True)])

    return build


@pytest.fixture
def one_at_a_time(by_hand: Build) -> Build:
    """`done` of `emitters`, three weighings of 8 minutes each; 0.3 kg and 10 minutes, scattered by `spread`."""

    def build(emitters: int, done: int, *, spread: float = 0.0, seed: int = 0, each: int = 3) -> JobCatch:
        rng, rows, minute = np.random.default_rng(seed), [], 0.0
        for number in range(1, done + 1):
            pool = 300.0 * np.exp(spread * rng.standard_normal())
            for step in range(each):
                minute += 8.0
                gone = np.exp(-0.8 * step) - np.exp(-0.8 * (step + 1))
                rows.append((minute, number, float(pool * gone * np.exp(0.5 * spread * rng.standard_normal()))))
        return by_hand(rows, emitters)

    return build
