"""A firm that changes its habit: told, and the ranges of later jobs hold again; a firm that does not is left alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from models.catch.records.job import JobCatch
from models.catch.stopping import cross_validation
from models.catch.stopping.predict_stopping import expect
from models.catch.stopping.storage import load_catch, pack
from models.catch.stopping.train_stopping import Learnt, learn
from models.catch.watch import watch
from models.store import save_model
from tests.models.catch import planted

BEFORE, SINCE, LATER = 80, 35, 60


def home_sooner(job: JobCatch, share: float = 0.5) -> JobCatch:
    """The crew goes home at half of the minutes that it used to take."""
    end = job.started_at + share * (job.last_at - job.started_at)
    minutes = (end - job.started_at) / timedelta(minutes=1)
    cut = job.known_at(end, minutes)
    return replace(cut, ended_at=end, days=(replace(job.days[0], last_at=end),))


@pytest.fixture(scope="module")
def jobs() -> list[JobCatch]:
    past = planted.firm(BEFORE + SINCE + LATER, seed=17)
    return [*past[:BEFORE], *(home_sooner(job) for job in past[BEFORE:])]


@pytest.fixture(scope="module")
def learnt(jobs: list[JobCatch]) -> Learnt:
    return learn(jobs[: BEFORE + SINCE])


def fell(learnt: Learnt, jobs: list[JobCatch]) -> tuple[int, int]:
    """At half of their flush: how many of the jobs then gave what lies in the 80 % range, and ended before the middle
    of the minutes told."""
    found = []
    for job in jobs:
        end = (job.last_at - job.started_at) / timedelta(minutes=1)
        seen = expect(learnt, job, 0.5 * end)
        assert seen is not None
        then = sum(c.dry_g for c in job.catches if c.minutes > 0.5 * end + 1 / 60) / 1000.0
        found.append((seen.kg.p10 <= then <= seen.kg.p90, 0.5 * end < seen.minutes.p50))
    kg, sooner = np.array(found).sum(axis=0)
    return int(kg), int(sooner)


def test_the_change_is_found_near_where_it_was_planted_and_told_once_each(jobs: list[JobCatch], learnt: Learnt) -> None:
    kg, minutes = (learnt.changes[name] for name in ("kg", "minutes"))

    assert minutes.recalibrated
    assert minutes.window == pytest.approx(SINCE, abs=10)
    assert minutes.level_factor < 0.8
    job = jobs[-1]
    seen = watch(job, job.started_at + timedelta(minutes=60), learnt)
    sentences = [each.sentence for each in seen.findings if each.code == "forecast_recalibrated"]
    assert len(sentences) == kg.recalibrated + minutes.recalibrated
    assert f"the newest {minutes.window} jobs alone" in sentences[-1]
    assert f"Since {minutes.since} jobs have gone on 0." in sentences[-1]


@pytest.mark.study
def test_ranges_of_later_jobs_hold_again_with_the_check_and_do_not_without(
    jobs: list[JobCatch], learnt: Learnt, monkeypatch: pytest.MonkeyPatch
) -> None:
    later = jobs[BEFORE + SINCE :]
    monkeypatch.setattr(cross_validation, "CHANGE_ALARM", 0.0)
    without = learn(jobs[: BEFORE + SINCE])

    kg, sooner = fell(learnt, later)

    # 35 jobs settle the true cover to 0.8 ± 0.07 (sd), which may lie at 0.66 or 0.94; then once in a thousand
    assert binom.ppf(0.001, LATER, 0.66) <= kg <= binom.ppf(0.999, LATER, 0.94)
    # the middle likewise: 0.5 ± 0.085
    assert binom.ppf(0.001, LATER, 0.33) <= sooner <= binom.ppf(0.999, LATER, 0.67)
    assert fell(without, later)[1] > binom.ppf(0.999, LATER, 0.67)


def test_the_same_jobs_in_any_order_raise_no_alarm(jobs: list[JobCatch]) -> None:
    some = jobs[: BEFORE + SINCE]
    mixed = [some[at] for at in np.random.default_rng(1).permutation(len(some))]
    moved = [_moved(job, some[at].started_at - job.started_at) for at, job in enumerate(mixed)]

    assert not any(check.recalibrated for check in learn(moved).changes.values())


def _moved(job: JobCatch, by: timedelta) -> JobCatch:
    days = tuple(replace(day, first_at=day.first_at + by, last_at=day.last_at + by) for day in job.days)
    return replace(job, started_at=job.started_at + by, ended_at=job.last_at + by, days=days)


def test_a_book_of_few_jobs_is_not_checked() -> None:
    assert learn(planted.firm(45, seed=2)).changes == {}


def test_what_was_found_is_stored(learnt: Learnt, tmp_path: Path) -> None:
    save_model(tmp_path / "catch", pack(learnt), {"model": "catch"})
    again = load_catch(tmp_path)

    assert again is not None
    assert again.changes == learnt.changes
