"""Finished jobs told again: nothing from later, the right sums, scores beside simple ways."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from models.catch.records.flush_clock import DayOnSite
from models.catch.records.job import JobCatch
from models.catch.replay import Replayed, blocks, replay
from models.catch.replay_scores import naive_left, scores
from pipeline.contract.findings import BadInput
from tests.models.catch import planted

SHARES = (0.25, 0.5, 0.75)


@pytest.fixture(scope="module")
def past() -> list[JobCatch]:
    return planted.firm(60, seed=8)


@pytest.fixture(scope="module")
def rows(past: list[JobCatch]) -> list[Replayed]:
    return list(replay(past, SHARES))


def test_every_finished_job_stands_at_every_share(past: list[JobCatch], rows: list[Replayed]) -> None:
    assert [(row.seen.job_id, row.share) for row in rows] == [(job.job_id, at) for job in past for at in SHARES]


def test_what_followed_is_what_was_weighed_after_that_moment(past: list[JobCatch], rows: list[Replayed]) -> None:
    for row in rows:
        later = sum(c.dry_g for c in past[row.place].catches if c.minutes > row.seen.minutes + 1 / 60) / 1000.0
        assert row.then_kg == pytest.approx(later)
        whole = sum(c.dry_g for c in past[row.place].catches) / 1000.0
        assert row.seen.caught_kg + row.then_kg == pytest.approx(whole)
        assert row.seen.minutes == pytest.approx(row.share * (row.seen.minutes + row.then_minutes), abs=0.02)


def test_no_job_is_told_by_itself_or_by_later_jobs(past: list[JobCatch], rows: list[Replayed]) -> None:
    doubled = [
        replace(job, catches=tuple(replace(catch, dry_g=2.0 * catch.dry_g) for catch in job.catches))
        for job in past[45:]
    ]
    again = list(replay([*past[:45], *doubled], (0.5,)))
    before = [row.seen.remaining_kg for row in rows if row.share == 0.5]

    # the last block begins at job 45: all before it is told the same, whatever came later
    assert [row.seen.remaining_kg for row in again[:45]] == before[:45]
    assert again[-1].seen.remaining_kg != before[-1]


def test_the_first_jobs_are_told_without_past_jobs_and_later_ones_by_those_before(rows: list[Replayed]) -> None:
    # blocks of 60 jobs begin at 0, 6, 15, 30, 45: only the last has forty jobs behind it
    assert [first for first, _ in blocks(60)] == [0, 6, 15, 30, 45]
    assert {row.learnt_from for row in rows if row.place < 45} == {0}
    assert {row.learnt_from for row in rows if row.place >= 45} == {45}


def test_a_row_is_the_watch_as_json_with_share_moment_and_what_followed(rows: list[Replayed]) -> None:
    row = json.loads(json.dumps(rows[-1].as_json(), allow_nan=False))

    assert row["at"] == 0.75
    assert row["moment"].startswith("2030-")
    assert set(row["then"]) == {"remaining_kg", "minutes"}
    assert {"caught_kg", "remaining_kg", "level_off_at", "emitters", "one_more_hour", "findings"} <= set(row)


def test_forecasts_beat_the_naive_curve_by_a_quarter(past: list[JobCatch], rows: list[Replayed]) -> None:
    found = [score for score in scores(rows, past, {}) if score.group == "all jobs"]

    assert [score.at for score in found] == [0.25, 0.5, 0.75]
    assert all(score.against_naive is not None and score.against_naive <= 0.75 for score in found)
    assert all(score.against_quote is None for score in found)


def test_a_curve_that_has_bent_is_what_the_naive_way_goes_by(past: list[JobCatch]) -> None:
    start = past[0].started_at
    minutes = np.arange(1, 9) * 20.0
    grams = 2000.0 * np.diff(-np.expm1(-minutes / 40.0), prepend=0.0)
    catch = past[0].catches[0]
    whole = replace(
        past[0],
        ended_at=None,
        days=(DayOnSite(start, start + timedelta(minutes=160), 0.0),),
        catches=tuple(
            replace(catch, minutes=float(at), emitter_no=None, focus_minutes=None, dry_g=float(g))
            for at, g in zip(minutes, grams, strict=True)
        ),
    )

    # 2 kg · e^(−160/40) = 0.0366 kg are left of the planted curve
    assert naive_left(whole, 160.0) == pytest.approx(0.0366, abs=1e-4)


@pytest.mark.parametrize("share", [0.0, 1.0, -0.2])
def test_shares_outside_the_flush_are_refused(past: list[JobCatch], share: float) -> None:
    with pytest.raises(BadInput, match="between 0 and 1"):
        list(replay(past[:2], (share,)))
