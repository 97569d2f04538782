"""Heat and flow within jobs: planted effects come back, none is found where there is none, however jobs differ."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from models.catch.release_effects import ReleaseEffects, Timed, release_effects, timed_weighings
from models.refusals import NotEnoughData

TAU, PACE = 16.0, 8.0


def weighings(heat: float, flow: float, *, jobs: int = 120, between: float = 0.0, seed: int = 5) -> Timed:
    """Eight curves of four weighings a job, by a clock that runs `e^(heat · x) · Q^flow` times as fast; both change
    from weighing to weighing, and rise along each curve. `between`: hot jobs have so much quicker houses."""
    rng = np.random.default_rng(seed)
    curves, steps = jobs * 8, 4
    job = np.repeat(np.arange(jobs), 8)
    warm = rng.normal(0.0, 1.0, jobs)[job]
    x = rng.normal(0.0, 0.7, (curves, steps, 2)) * [1.0, 0.4] + warm[:, None, None] * [1.0, 0.0]
    x[:, :, 0] += 0.5 * np.arange(steps)
    tau = TAU * np.exp(0.2 * rng.normal(size=curves) - between * warm)
    u = np.cumsum(PACE * np.exp(x @ [heat, flow]), axis=1) / tau[:, None]
    pool = np.exp(rng.normal(0.0, 0.6, curves))
    kg = pool[:, None] * -np.diff(np.exp(-np.concatenate([np.zeros((curves, 1)), u], axis=1)), axis=1)
    kg = kg * np.exp(0.1 * rng.normal(size=kg.shape))
    kg /= kg.reshape(jobs, -1).mean(axis=1)[job, None]
    return Timed(
        kg.ravel(), np.full(kg.size, PACE), x.reshape(-1, 2), np.repeat(np.arange(curves), steps), np.repeat(job, steps)
    )


def exponents(found: ReleaseEffects) -> list[float]:
    return [effect.exponent for effect in found.effects]


def test_planted_effects_come_back_within_a_sixth() -> None:
    found = release_effects(weighings(0.20, 0.50))

    # a line through a curve: the mean over six seeds is 4 and 7 % too large (bias), one seed scatters by 4 % (noise)
    assert exponents(found) == pytest.approx([0.20, 0.50], rel=1 / 6)
    heat, flow = found.effects
    assert heat.low > 1.0
    assert flow.low > 1.0
    assert heat.ratio == pytest.approx(np.exp(heat.exponent))
    assert flow.ratio == pytest.approx(2.0**flow.exponent)


def test_quick_houses_that_are_flushed_hot_are_not_taken_for_an_effect_of_heat() -> None:
    # hot jobs have houses e^0.5 times as quick a spread of heat: a comparison of jobs would find it, this must not
    found = release_effects(weighings(0.0, 0.0, between=0.5))

    for effect in found.effects:
        assert effect.low < 1.0 < effect.high


def test_intervals_hold_no_effect_as_often_as_they_say() -> None:
    held = [
        effect.low < 1.0 < effect.high
        for seed in range(60)
        for effect in release_effects(weighings(0.0, 0.0, jobs=45, seed=seed)).effects
    ]
    # 120 intervals of 95 %: fewer than 106 or all of them wrong once in a thousand
    assert sum(held) >= 106


def test_the_clock_runs_by_the_effects() -> None:
    found = release_effects(weighings(0.20, 0.50))
    heat, flow = exponents(found)

    assert found.pace(np.array([50.0]), np.array([20.0])) == pytest.approx([1.0])
    assert found.pace(np.array([60.0]), np.array([40.0])) == pytest.approx([np.exp(heat) * 2.0**flow])


def test_few_jobs_or_heat_that_never_changed_are_refused() -> None:
    with pytest.raises(NotEnoughData):
        release_effects(weighings(0.2, 0.5, jobs=39))
    even = weighings(0.2, 0.5)
    with pytest.raises(NotEnoughData):
        release_effects(Timed(even.kg, even.minutes, np.zeros_like(even.x), even.curve, even.job))


START = pd.Timestamp("2031-03-04T09:00")


def three_weighings_and_a_strainer() -> pd.DataFrame:
    """Catches of one job: the magnet at 20, 40 and 60 minutes after the start, the strainer at the end."""
    return pd.DataFrame(
        {
            "firm_id": "own",
            "job_id": "J",
            "catch_no": [1, 2, 3, 4],
            "trap": ["magnet"] * 3 + ["strainer"],
            "caught_at": [START + pd.Timedelta(minutes=m) for m in (20, 40, 60, 60)],
            "focus_emitter_no": [1, 1, 1, None],
            "interval_minutes": 20.0,
            "dry_g": [300.0, 200.0, 100.0, 50.0],
        }
    )


def test_readings_are_taken_at_the_middle_of_each_interval() -> None:
    readings = pd.DataFrame(
        {
            "firm_id": "own",
            "job_id": "J",
            "read_at": [START, START + pd.Timedelta(minutes=60)],
            "flow_temp_c": [45.0, 65.0],
            "return_temp_c": [35.0, 55.0],
            "flow_l_min": [20.0, 20.0],
        }
    )

    timed = timed_weighings(three_weighings_and_a_strainer(), readings)

    # mean of flow and return: 40 °C at 0, 60 °C at 60 minutes; middles at 10, 30, 50 minutes: 43.33, 50, 56.67 °C
    assert timed.x[:, 0] == pytest.approx([-2 / 3, 0.0, 2 / 3])
    assert timed.x[:, 1] == pytest.approx([0.0, 0.0, 0.0])
    assert timed.kg == pytest.approx([1.5, 1.0, 0.5])
