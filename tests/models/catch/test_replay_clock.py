"""Finished jobs asked again by the clock: every so many minutes to the last, and how often the ranges held."""

from __future__ import annotations

import json

import pytest

from models.catch.records.job import JobCatch
from models.catch.replay import Replayed, replay_by_clock
from models.catch.replay_clock import ClockScore, clock_scores
from pipeline.contract.findings import BadInput
from tests.models.catch import planted

EVERY = 30.0


@pytest.fixture(scope="module")
def past() -> list[JobCatch]:
    return planted.firm(60, seed=8)


@pytest.fixture(scope="module")
def rows(past: list[JobCatch]) -> list[Replayed]:
    return list(replay_by_clock(past, EVERY))


def test_every_job_is_asked_every_half_hour_until_it_ends(past: list[JobCatch], rows: list[Replayed]) -> None:
    for place, job in enumerate(past):
        end = (job.last_at - job.started_at).total_seconds() / 60.0
        asked = [row for row in rows if row.place == place]
        assert [row.seen.minutes for row in asked] == pytest.approx(
            [EVERY * at for at in range(1, len(asked) + 1)], abs=0.02
        )
        assert 0.0 < asked[-1].then_minutes <= EVERY + 1.0
        assert [row.share for row in asked] == pytest.approx([row.seen.minutes / end for row in asked], abs=1e-3)


def test_a_row_says_whether_what_followed_lay_in_the_range(rows: list[Replayed]) -> None:
    told, alone = json.loads(json.dumps(rows[-1].as_json())), json.loads(json.dumps(rows[0].as_json()))

    minutes = told["minutes_left"]
    assert told["within_80"]["minutes"] == (minutes["p10"] <= told["then"]["minutes"] <= minutes["p90"])
    assert alone["within_80"]["minutes"] is None


def test_scores_count_moments_by_hand(rows: list[Replayed]) -> None:
    told = [row for row in rows if row.learnt_from]
    found = {score.group: score for score in clock_scores(rows)}

    late = [row for row in told if row.then_minutes <= 60.0]
    inside = [row for row in late if row.seen.minutes_left.p10 <= row.then_minutes <= row.seen.minutes_left.p90]
    assert found["all moments"].moments == len(told)
    assert found["all moments"].jobs == 15
    assert found["the last hour"].moments == len(late)
    assert found["the last hour"].minutes_coverage_80 == pytest.approx(len(inside) / len(late))


def test_quarters_by_the_clock_hold_every_moment_once(rows: list[Replayed]) -> None:
    quarters: list[ClockScore] = [score for score in clock_scores(rows) if score.group == "by the clock"]

    assert sum(score.moments for score in quarters) == clock_scores(rows)[0].moments
    assert [score.from_minute for score in quarters[1:]] == [score.to_minute for score in quarters[:-1]]


@pytest.mark.parametrize("every", [0.5, 0.0, -20.0, 241.0, float("nan")])
def test_times_between_forecasts_that_make_no_sense_are_refused(past: list[JobCatch], every: float) -> None:
    with pytest.raises(BadInput, match="such as 20"):
        list(replay_by_clock(past, every))
