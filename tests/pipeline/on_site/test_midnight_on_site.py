"""A job on site that goes on past midnight: the picture tonight and the book tomorrow count the same minutes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pandas as pd
import pytest

from pipeline.on_site.entries import Sender, record
from pipeline.on_site.entry_rows import job_log_rows
from pipeline.on_site.finish import hand_in
from pipeline.on_site.job_features import site_tables
from pipeline.on_site.open_job import read_site_job
from pipeline.store.book import Book

BEGAN = datetime(2025, 3, 4, 22, 0)
Frame = Callable[[Book, str], pd.DataFrame]


def save(book: Book, kind: str, at: datetime, **of: object) -> None:
    record(book, "J1", kind, of, Sender(f"{kind}-{at:%d%H%M}"), now=at)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("hours", "minutes", "days"),
    [
        ((1, 2, 4), 240.0, 1),  # 23:00, midnight itself, 02:00
        ((0.5, 6.45), 387.0, 1),  # 5 h 57 with midnight in them are work
        ((0.5, 6.5, 12), 30.0 + 330.0, 2),  # 6 h are a night: 22:00 to 22:30, 04:30 to 10:00
    ],
)
def test_tonights_minutes_are_those_of_the_book(
    book: Book, frame_of: Frame, hours: tuple[float, ...], minutes: float, days: int
) -> None:
    save(book, "start", BEGAN, job={"system_type": "sealed"}, flush_started_at=BEGAN)
    for hour in hours:
        save(book, "catch", BEGAN + timedelta(hours=hour), mass_g=100.0, trap="magnet")
    now = BEGAN + timedelta(hours=hours[-1])
    tonight = site_tables(book, job_log_rows(read_site_job(book, "J1"), now=now), now, ("ftr_job_day",))
    save(book, "finish", now, flush_ended_at=now)
    report = hand_in(book, "J1")
    of_book = frame_of(book, "ftr_job_day")

    assert not report.rejects
    assert (tonight.frames["ftr_job_day"]["minutes"].sum(), len(of_book)) == (minutes, days)
    columns = ["day_no", "first_at", "last_at", "minutes_before", "minutes"]
    pd.testing.assert_frame_equal(tonight.frames["ftr_job_day"][columns], of_book[columns])
