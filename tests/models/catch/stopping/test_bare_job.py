"""A job of which nothing but weighings is known is told as one of the book's usual, as widely as these differ."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy.stats import binom

from models.catch.records.job import JobCatch
from models.catch.stopping.predict_stopping import expect
from models.catch.stopping.train_stopping import Learnt, learn
from models.catch.watch import watch
from tests.models.catch import planted

LEARNT, LATER = 80, 80


def bare(job: JobCatch, minutes: float) -> JobCatch:
    """The job as it stands by its weighings alone, no emitter named, some minutes after its start."""
    now = job.known_at(job.started_at + timedelta(minutes=minutes), minutes)
    catches = tuple(replace(catch, emitter_no=None, focus_minutes=None) for catch in now.catches)
    day = replace(job.days[0], last_at=job.started_at + timedelta(minutes=minutes))
    return replace(now, catches=catches, emitters=(), isolation="", ended_at=None, days=(day,))


@pytest.fixture(scope="module")
def past() -> list[JobCatch]:
    return planted.firm(LEARNT + LATER, seed=23)


@pytest.fixture(scope="module")
def learnt(past: list[JobCatch]) -> Learnt:
    return learn(past[:LEARNT])


@pytest.mark.study
def test_ranges_of_bare_jobs_hold_as_often_as_they_say(past: list[JobCatch], learnt: Learnt) -> None:
    inside = []
    for job in past[LEARNT:]:
        half = 0.5 * job.catches[-1].minutes
        seen = expect(learnt, bare(job, half), half)
        assert seen is not None
        assert seen.kind == "bare"
        then = sum(c.dry_g for c in job.catches if c.minutes > half + 1 / 60) / 1000.0
        inside.append(seen.kg.p10 <= then <= seen.kg.p90)

    # 80 jobs settle the true cover to 0.8 ± 0.045 (sd), which may lie at 0.71 or 0.89; then once in a thousand
    assert binom.ppf(0.001, LATER, 0.71) <= sum(inside) <= binom.ppf(0.999, LATER, 0.89)


@pytest.mark.parametrize("grams", [12.0, 40.0, 200.0])
def test_a_bare_job_one_minute_old_is_one_of_the_usual(past: list[JobCatch], learnt: Learnt, grams: float) -> None:
    first = replace(past[-1].catches[0], minutes=1.0, dry_g=grams)
    job = bare(replace(past[-1], catches=(first,)), 1.0)
    usual = np.quantile([sum(c.dry_g for c in one.catches) / 1000.0 for one in past[:LEARNT]], [0.1, 0.5, 0.9])

    seen = watch(job, job.started_at + timedelta(minutes=1), learnt)

    # whatever came in a minute on a clock rounded to five is no pace to go by
    assert seen.remaining_kg is not None
    assert usual[0] < seen.remaining_kg.p50 < usual[2]
    # the range is about as wide as the usual jobs differ
    width = np.log(seen.remaining_kg.p90 / seen.remaining_kg.p10)
    assert width > 0.6 * np.log(usual[2] / usual[0])
    assert "by this book's usual jobs, as nothing but weighings is known of this house" in seen.answer
    assert "as if no more were known of them than of this one" in seen.basis


def test_in_an_empty_book_a_bare_job_of_one_catch_is_refused_plainly(past: list[JobCatch]) -> None:
    job = bare(past[-1], planted.PACE_MIN)

    assert watch(job).remaining_kg is None
    assert "is too few to say how much is left; it takes 3" in watch(job).answer
