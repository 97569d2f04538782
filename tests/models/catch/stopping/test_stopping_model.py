"""Lines and ladders of what crews go on to catch: what they lean on, and what they say where a log is thin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.catch.posterior.ridge import Ridge, design, fit
from models.catch.records.job import JobCatch
from models.catch.stopping.predict_stopping import expect
from models.catch.stopping.stopping_model import Lines, Target, ladders, weighted_ladder
from models.catch.stopping.train_stopping import Learnt, learn
from tests.models.catch import planted


@pytest.fixture(scope="module")
def past() -> list[JobCatch]:
    return planted.firm(120, seed=5)


@pytest.fixture(scope="module")
def learnt(past: list[JobCatch]) -> Learnt:
    return learn(past[:100])


def unfocused(job: JobCatch, isolation: str) -> JobCatch:
    """The same job, weighed without a word on which emitter had the flow."""
    catches = tuple(replace(catch, emitter_no=None, focus_minutes=None) for catch in job.catches)
    return replace(job, catches=catches, isolation=isolation)


def test_rows_of_one_job_count_as_one_when_the_strength_is_chosen() -> None:
    rng = np.random.default_rng(3)
    own = rng.normal(size=(60, 40))
    # each of 60 jobs seen ten times with the same features and the same error: nothing to be learnt from them
    x, z = np.repeat(own, 10, axis=0), np.repeat(rng.normal(size=60), 10)
    fresh = rng.normal(size=(500, 40))

    trusting, wary = fit(design(x), z).predict(fresh), fit(design(x, independent=60), z).predict(fresh)

    # the right forecast is 0; 40 weights out of 60 errors strew by about sqrt(40 / (60 − 40)) = 1.4
    assert trusting.std() > 0.8
    assert wary.std() < 0.3


def test_a_design_is_shared_by_several_aims() -> None:
    rng = np.random.default_rng(4)
    x = rng.normal(size=(400, 3))
    x[::7, 1] = np.nan
    rows = design(x)

    for weights in ([1.0, 0.0, -2.0], [0.0, 0.0, 0.5]):
        z = np.nan_to_num(x) @ np.array(weights)
        assert fit(rows, z).weights == pytest.approx(weights, abs=0.05)


def test_scores_early_and_late_are_kept_apart_by_the_minutes_left_as_forecast() -> None:
    """200 jobs of one moment each: five stretches of 40, their scores 10 apart."""
    log_left = np.linspace(2.0, 6.0, 200)
    scores = np.repeat([0.0, 10.0, 20.0, 30.0, 40.0], 40) + np.tile(np.linspace(-1.0, 1.0, 40), 5)

    found, edges = ladders(scores, log_left, np.arange(200))

    assert [len(each.scores) for each in found] == [40] * 5
    assert [round(float(each.quantiles(0.5)), -1) for each in found] == [0.0, 10.0, 20.0, 30.0, 40.0]
    assert edges == pytest.approx([2.8, 3.6, 4.4, 5.2], abs=0.02)
    ridge = Ridge(0.0, *(np.zeros(1),) * 3)
    target = Target(Lines(("jump",), ridge, ridge, np.zeros(1), np.ones(1)), found, edges, 0.0, 200)
    told = [float(target.quantiles(np.zeros(1), 0.0, left, np.array([0.5]))[0]) for left in (2.5, 3.0, 4.0)]
    assert told[0] < 3.0
    assert np.log(told[1:]) == pytest.approx([10.0, 12.0], abs=0.1)  # the logs of what is told are held at 12


def test_fewer_jobs_are_parted_into_fewer_stretches() -> None:
    parts = [len(ladders(np.zeros(jobs), np.linspace(0, 1, jobs), np.arange(jobs))[0]) for jobs in (25, 79, 80, 160)]

    assert parts == [1, 1, 2, 4]


def test_a_job_with_many_moments_counts_as_one_and_lends_no_more_certainty() -> None:
    """Nine jobs with a score each, 0.1 … 0.9; the tenth stands there a thousand times, at 5."""
    scores = np.append(np.arange(1, 10) / 10.0, np.full(1000, 5.0))
    weight = np.append(np.ones(9), np.full(1000, 1e-3))

    found = weighted_ladder(scores, weight, np.append(np.arange(9), np.full(1000, 9)), 1.0)

    assert len(found.scores) <= 10
    assert float(found.quantiles(0.5)) == pytest.approx(0.5, abs=0.11)


@pytest.mark.parametrize("own_minutes", [0.0, 0.5])
def test_two_weighings_at_one_clock_minute_do_not_promise_tons(
    past: list[JobCatch], learnt: Learnt, own_minutes: float
) -> None:
    job = past[110]
    place = next(at for at, catch in enumerate(job.catches) if at > 5 and catch.focus_minutes == planted.PACE_MIN)
    catch = job.catches[place]
    at_once = replace(catch, minutes=job.catches[place - 1].minutes + own_minutes, focus_minutes=own_minutes)
    rounded = replace(job, catches=(*job.catches[:place], at_once, *job.catches[place + 1 :]))

    right, seen = expect(learnt, job, catch.minutes), expect(learnt, rounded, catch.minutes)

    assert right is not None
    assert seen is not None
    assert 0.5 < seen.kg.p50 / right.kg.p50 < 2.0


def test_a_plan_that_does_not_say_is_told_by_jobs_with_several_emitters_open(past: list[JobCatch]) -> None:
    learnt = learn([unfocused(job, ("all_open", "groups")[at % 2]) if at % 3 else job for at, job in enumerate(past)])

    seen = expect(learnt, unfocused(past[100], ""), 60.0)

    assert seen is not None
    assert seen.kind == "together"
    assert seen.jobs == 80


def test_a_kind_with_few_past_jobs_is_told_by_the_next_wider_one(past: list[JobCatch]) -> None:
    way = ("groups", *["all_open"] * 7)
    learnt = learn([unfocused(job, way[at % 8]) if at % 3 else job for at, job in enumerate(past)])

    seen = expect(learnt, unfocused(past[100], "groups"), 60.0)

    # ten jobs group by group are too few to be a kind of their own
    assert seen is not None
    assert seen.kind == "together"
