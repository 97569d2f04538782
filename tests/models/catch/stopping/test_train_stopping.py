"""What is learnt from past jobs: planted parameters come back, later jobs fall within the range as often as said."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from models.catch.posterior.job_arrays import job_arrays
from models.catch.records.job import JobCatch
from models.catch.stopping.predict_stopping import expect, expect_of
from models.catch.stopping.storage import learn_and_store, load_catch
from models.catch.stopping.train_stopping import Learnt, learn
from models.catch.watch import watch
from models.refusals import NotEnoughData
from pipeline.contract.findings import SludgebookError
from tests.models.catch import planted


@pytest.fixture(scope="module")
def past() -> list[JobCatch]:
    return planted.firm(260, seed=3)


@pytest.fixture(scope="module")
def learnt(past: list[JobCatch]) -> Learnt:
    return learn(past[:160])


def test_planted_spreads_pace_and_size_are_found_again(learnt: Learnt) -> None:
    prior = learnt.emitters
    assert prior is not None
    # 160 houses: the sd of a house's effect has a standard error of about 0.5 / sqrt(2 · 160) = 0.03
    assert prior.house_sd == pytest.approx(planted.HOUSE_SD, abs=0.1)
    # 1,440 emitters: 0.01; curves that are not told to the end add a little
    assert prior.own_sd == pytest.approx(planted.OWN_SD, abs=0.06)
    assert prior.line.weights[0] == pytest.approx(planted.LITRES_POWER, abs=0.15)
    assert learnt.pace.tau_min == pytest.approx(planted.TAU_MIN, rel=0.15)


def test_four_in_five_later_jobs_fall_within_the_range(past: list[JobCatch], learnt: Learnt) -> None:
    within = []
    for job in past[160:]:
        one = job_arrays(job, learnt.pace)
        assert one is not None
        for share in (0.25, 0.5, 0.75):
            seen = expect_of(learnt, one, share * one.end)
            assert seen is not None
            then = float(one.kg[one.minutes > share * one.end + 1 / 60].sum())
            within.append(seen.kg.p10 <= then <= seen.kg.p90)

    # the three moments of a job hang together: the bounds are those of the 100 jobs, 0.1 % each way
    low, high = binom.ppf(0.001, 100, 0.8) / 100, binom.ppf(0.999, 100, 0.8) / 100
    assert low <= np.mean(within) <= high


def test_the_first_emitters_of_a_rich_house_raise_what_is_expected_of_the_others(
    past: list[JobCatch], learnt: Learnt
) -> None:
    job = past[200]
    rich = replace(job, catches=tuple(replace(catch, dry_g=3.0 * catch.dry_g) for catch in job.catches))
    now = 0.3 * job.catches[-1].minutes

    usual, more = expect(learnt, job, now), expect(learnt, rich, now)

    assert usual is not None
    assert more is not None
    assert more.kg.p50 > 1.8 * usual.kg.p50


def test_nothing_from_later_is_used(past: list[JobCatch], learnt: Learnt) -> None:
    job = past[210]
    at = job.started_at + timedelta(minutes=60)
    cut = replace(
        job,
        catches=tuple(c for c in job.catches if c.minutes <= 60),
        ended_at=None,
        days=(replace(job.days[0], last_at=at),),
    )

    assert watch(job, at, learnt).remaining_kg == watch(cut, at, learnt).remaining_kg


def test_a_watch_with_past_jobs_tells_both_amounts_and_what_each_stands_on(
    past: list[JobCatch], learnt: Learnt
) -> None:
    job = past[220]
    at = job.started_at + timedelta(minutes=60)

    with_past, without = watch(job, at, learnt), watch(job, at)

    assert with_past.remaining_kg != with_past.if_flow_goes_on_kg
    assert without.remaining_kg == without.if_flow_goes_on_kg
    assert "160 finished jobs" in with_past.basis
    assert "as your crews work" in with_past.answer
    assert "wide beliefs" in without.basis
    assert with_past.minutes_left is not None
    assert without.minutes_left is None


def test_under_forty_jobs_nothing_is_learnt(past: list[JobCatch], tmp_path: Path) -> None:
    with pytest.raises(NotEnoughData):
        learn(past[:39])
    assert learn_and_store(past[:39], tmp_path) is None
    assert load_catch(tmp_path) is None


def test_what_was_stored_forecasts_the_same(past: list[JobCatch], tmp_path: Path) -> None:
    learnt = learn_and_store(past[:60], tmp_path)
    again = load_catch(tmp_path)

    assert learnt is not None
    assert again is not None
    assert expect(again, past[70], 80.0) == expect(learnt, past[70], 80.0)
    (tmp_path / "catch" / "arrays.npz").write_bytes(b"torn")
    with pytest.raises(SludgebookError, match="run `sludgebook train` again"):
        load_catch(tmp_path)


def test_emitters_to_come_are_told_by_size_and_by_the_house(past: list[JobCatch], learnt: Learnt) -> None:
    inside = []
    for job in past[160:]:
        half = 0.5 * job.catches[-1].minutes
        seen = watch(job, job.started_at + timedelta(minutes=half), learnt)
        for emitter in seen.emitters:
            if emitter.state != "not_started" or emitter.remaining_kg is None:
                continue
            own = [c for c in job.catches if c.emitter_no == emitter.emitter_no]
            reached = -np.expm1(-float(own[-1].focus_minutes or 0.0) / planted.TAU_MIN)
            pool = sum(c.dry_g for c in own) / 1000.0 / reached
            inside.append(emitter.remaining_kg.p10 <= pool <= emitter.remaining_kg.p90)

    # the emitters of one house share its effect, so 100 houses are nearer to 100 than to 450 witnesses: 0.1 % each way
    low, high = binom.ppf(0.001, 100, 0.8) / 100, binom.ppf(0.999, 100, 0.8) / 100
    assert low <= np.mean(inside) <= high
