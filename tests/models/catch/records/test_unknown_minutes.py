"""A flush of which nobody can know the minutes is not watched, not learnt from, and never counted as 0."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pandas as pd
import pytest

from models.catch.records.job_frames import CatchFrames, job_catch
from models.catch.replay import in_time
from models.catch.watch import watch
from models.refusals import Refusal
from pipeline.contract.built_tables import CATCH_CURVE, EMITTER, EMITTER_CURVE

KEY = {"firm_id": "n", "job_id": "a"}
DAY_ONE = {"day_no": 1, "first_at": pd.Timestamp(2031, 3, 4, 22), "last_at": pd.Timestamp(2031, 3, 4, 22)}
DAY_TWO = {"day_no": 2, "first_at": pd.Timestamp(2031, 3, 5, 8), "last_at": pd.Timestamp(2031, 3, 5, 14)}


def frames(days: list[dict[str, object]], ended: datetime) -> CatchFrames:
    """Job `a` of two firms; the other firm's was done in a day."""
    other = {"firm_id": "s", "job_id": "a"}
    jobs = [key | {"flush_started_at": datetime(2031, 3, 4, 22), "flush_ended_at": ended} for key in (KEY, other)]
    job_day = pd.DataFrame([KEY | day for day in days], columns=[*KEY, *DAY_ONE, "minutes_before", "minutes"])
    empty = [pd.DataFrame(columns=list(table.names)) for table in (CATCH_CURVE, EMITTER_CURVE, EMITTER)]
    return CatchFrames(pd.DataFrame(jobs), job_day.astype({"minutes_before": float, "minutes": float}), *empty)


@pytest.mark.parametrize(
    "minutes",
    [
        [(0.0, None), (None, 360.0)],  # nobody knows when the first day ended
        [(0.0, 90.0), (90.0, None)],  # nobody knows when the second began
    ],
)
def test_a_watch_of_it_is_refused_with_what_to_add(minutes: list[tuple[float | None, float | None]]) -> None:
    days = [
        day | {"minutes_before": before, "minutes": own}
        for day, (before, own) in zip((DAY_ONE, DAY_TWO), minutes, strict=True)
    ]
    job = job_catch(frames(days, datetime(2031, 3, 5, 14)), "n", "a")

    assert not job.knows_minutes
    assert in_time([job, replace(job, knows_minutes=True)]) == [replace(job, knows_minutes=True)]
    with pytest.raises(Refusal, match=r"does not say when the flush stopped .* Add a weighing or a reading"):
        watch(job)


@pytest.mark.parametrize(
    ("ended", "minutes"),
    [
        (datetime(2031, 3, 5, 3, 59), 359.0),  # 5 h 59 over midnight are work
        (datetime(2031, 3, 5, 0, 0), 120.0),
        (datetime(2031, 3, 5, 4, 0), None),  # 6 h are a night, and 22:00 and 04:00 lie outside working hours
        (datetime(2031, 3, 9, 9, 0), None),
    ],
)
def test_a_job_without_days_asks_the_same_rule_of_nights(ended: datetime, minutes: float | None) -> None:
    job = job_catch(frames([], ended), "s", "a")

    assert job.knows_minutes is (minutes is not None)
    if minutes is not None:
        assert watch(job).minutes == minutes
