"""A job for the watch, from hand-made tables of a build and from rows typed in."""

from __future__ import annotations

from datetime import datetime

import pandas as pd
import pytest

from models.catch.watch import CatchFrames, EmitterFacts, HandWeighing, job_catch, job_catch_by_hand, job_catches, watch
from pipeline.contract.built_tables import CATCH_CURVE, EMITTER, EMITTER_CURVE, JOB_DAY
from pipeline.contract.columns import Table
from pipeline.contract.findings import BadInput

START = datetime(2031, 3, 4, 9, 0)
NIGHT = datetime(2031, 3, 5, 8, 0)


def frame(table: Table, rows: list[dict[str, object]]) -> pd.DataFrame:
    """Rows with every column of the contract; what a row does not say is empty."""
    return pd.DataFrame([{name: row.get(name) for name in table.names} for row in rows], columns=list(table.names))


@pytest.fixture
def frames() -> CatchFrames:
    """Two-day job `a` with emitters 1 (two catches) and 2 (one), a strainer catch; job `b` has no catch yet."""
    key = {"firm_id": "own", "job_id": "a"}
    weighings = [
        (1, 30, "magnet", 1, 300.0),
        (2, 60, "magnet", 1, 100.0),
        (3, 60, "strainer", None, 50.0),
        (4, 95, "magnet", 2, 200.0),
    ]
    curve = [
        key
        | {
            "catch_no": no,
            "minutes_since_start": float(minute),
            "trap": trap,
            "focus_emitter_no": emitter,
            "dry_g": grams,
        }
        for no, minute, trap, emitter, grams in weighings
    ]
    focus = [(1, 1, 30.0), (1, 2, 60.0), (2, 4, 35.0)]
    days = [
        key
        | {
            "day_no": 1,
            "first_at": START,
            "last_at": datetime(2031, 3, 4, 10, 30),
            "minutes_before": 0.0,
            "minutes": 90.0,
        },
        key
        | {
            "day_no": 2,
            "first_at": NIGHT,
            "last_at": datetime(2031, 3, 5, 8, 40),
            "minutes_before": 90.0,
            "minutes": 40.0,
        },
    ]
    jobs = [
        key | {"flush_started_at": START, "flush_ended_at": datetime(2031, 3, 5, 8, 40)},
        {"firm_id": "own", "job_id": "b", "flush_started_at": START, "flush_ended_at": None},
    ]
    emitters = [
        key | {"emitter_no": 1, "emitter_kind": "panel_11", "content_mid_l": 4.5, "cold_at_survey": True},
        key | {"emitter_no": 2, "cold_at_survey": None},
    ]
    by_emitter = [key | {"emitter_no": e, "catch_no": no, "focus_minutes": spent} for e, no, spent in focus]
    return CatchFrames(
        pd.DataFrame(jobs),
        frame(JOB_DAY, days),
        frame(CATCH_CURVE, curve),
        frame(EMITTER_CURVE, by_emitter),
        frame(EMITTER, emitters),
    )


def test_a_job_is_read_from_the_tables_of_a_build(frames: CatchFrames) -> None:
    job = job_catch(frames, "own", "a", hourly_cost=80.0, currency="EUR")

    assert [(c.minutes, c.emitter_no, c.focus_minutes, c.trap, c.dry_g) for c in job.catches] == [
        (30.0, 1, 30.0, "magnet", 300.0),
        (60.0, 1, 60.0, "magnet", 100.0),
        (60.0, None, None, "strainer", 50.0),
        (95.0, 2, 35.0, "magnet", 200.0),
    ]
    assert job.emitters == (EmitterFacts(1, "panel_11", 4.5, True), EmitterFacts(2))
    assert [day.minutes_before for day in job.days] == [0.0, 90.0]
    assert (job.hourly_cost, job.currency) == (80.0, "EUR")


def test_a_watch_over_a_night_counts_flush_minutes_only(frames: CatchFrames) -> None:
    job = job_catch(frames, "own", "a")

    assert watch(job).minutes == 130.0
    assert watch(job).caught_kg == pytest.approx(0.6)
    assert watch(job).non_magnetic_kg == pytest.approx(0.05)
    assert watch(job, datetime(2031, 3, 4, 23, 0)).minutes == 90.0
    assert watch(job, datetime(2031, 3, 4, 23, 0)).caught_kg == pytest.approx(0.4)


def test_every_job_of_the_frames_comes_in_order_and_one_without_catches_too(frames: CatchFrames) -> None:
    both = list(job_catches(frames))

    assert [job.job_id for job in both] == ["a", "b"]
    assert both[0] == job_catch(frames, "own", "a")
    assert both[1].catches == ()
    assert both[1].is_finished is False
    assert watch(both[1]).answer.startswith("Nothing has been weighed yet")


def test_a_job_that_is_not_there_or_has_no_start_is_named(frames: CatchFrames) -> None:
    with pytest.raises(BadInput, match="Job 'z' of firm 'own' is not in the book"):
        job_catch(frames, "own", "z")
    frames.jobs.loc[1, "flush_started_at"] = None
    with pytest.raises(BadInput, match="Job 'b' has no start of the flush"):
        job_catch(frames, "own", "b")


def test_the_frames_handed_in_stay_as_they_were(frames: CatchFrames) -> None:
    before = frames.catch_curve.copy()

    list(job_catches(frames))

    pd.testing.assert_frame_equal(frames.catch_curve, before)


def test_rows_typed_in_are_dried_and_their_minutes_given_to_their_emitter() -> None:
    rows = [
        HandWeighing(50, 2, 100.0, "dry"),
        HandWeighing(20, 1, 400.0),
        HandWeighing(30, None, 60.0, "wet", "strainer"),
        HandWeighing(35, 1, 200.0),
    ]

    job = job_catch_by_hand(rows, started_at=START, wet_dry_ratio=2.0)

    assert [(c.minutes, c.emitter_no, c.focus_minutes, c.dry_g) for c in job.catches] == [
        (20, 1, 20, 200.0),
        (30, None, None, 30.0),
        (35, 1, 35, 100.0),
        (50, 2, 15, 100.0),
    ]
    assert job.is_finished is False
    assert job.last_at == datetime(2031, 3, 4, 9, 50)


def test_every_fault_of_typed_rows_is_named_at_once() -> None:
    rows = [HandWeighing(-1, 1, 10.0), HandWeighing(5, 0, 30_000.0, "damp"), HandWeighing(float("nan"), 1, 1.0)]

    with pytest.raises(BadInput) as refused:
        job_catch_by_hand(rows, started_at=START, wet_dry_ratio=0.5)

    for part in (
        "wet/dry ratio is 0.5",
        "row 1: minutes is -1",
        "row 2: grams is 30000",
        "row 2: weighed is 'damp'",
        "row 2: emitter is 0",
        "row 3: minutes is nan",
    ):
        assert part in str(refused.value)
