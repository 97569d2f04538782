"""Follow-up and callbacks against the recorded day of loading, and callbacks that share a day."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from pipeline.intake import load as loading
from pipeline.intake.load import load, rebuild
from pipeline.store.book import Book, read_named
from tests.pipeline.conftest import WriteLog

Frame = Callable[[Book, str], pd.DataFrame]
HEAD = "firm_id,job_id,system_type,visit_date,flush_started_at,flush_ended_at,followed_until"
CALLS = "firm_id,job_id,called_back_on,cause,debris_related"
LOADED = date(2025, 6, 2)


class Clock(datetime):
    """The day on which a batch is received; the machine's own clock is years ahead of it."""

    @classmethod
    def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
        return datetime(LOADED.year, LOADED.month, LOADED.day, 12, 0)


@pytest.fixture(autouse=True)
def loaded_on_a_known_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "datetime", Clock)


def jobs(followed_until: str = "") -> list[str]:
    return [HEAD, *(f"{f},a,sealed,2025-03-04,2025-03-04T09:00,2025-03-04T15:00,{followed_until}" for f in "ns")]


@pytest.mark.parametrize(
    ("until", "days", "notes"),
    [("2025-06-01", 89, 0), ("2025-06-02", 90, 0), ("2025-06-03", 90, 2), ("2035-03-04", 90, 2), ("", 90, 0)],
)
def test_follow_up_ends_with_the_day_of_loading_and_a_later_end_is_warned_of(
    book: Book, write_log: WriteLog, frame_of: Frame, until: str, days: int, notes: int
) -> None:
    report = load([write_log(jobs=jobs(until), callbacks=[CALLS, *(f"{f},a,2025-03-04,leak," for f in "ns")])], book)

    assert frame_of(book, "ftr_callback")["followed_days"].tolist() == [days, days]  # 4 March to 2 June: 27+30+31+2
    warned = frame_of(book, "row_warnings")
    assert len(warned) == notes
    assert [f.code for f in report.findings] == ["follow_up_ahead"] * (notes > 0)
    if notes:
        assert set(warned["reason"]) == {"after 2025-06-02, the day of loading: follow-up counts to that day"}


def test_a_callback_after_the_day_of_loading_is_rejected(book: Book, write_log: WriteLog, frame_of: Frame) -> None:
    calls = [CALLS, "n,a,2025-06-02,blockage,", "s,a,2025-06-03,blockage,", "s,a,2031-03-04,leak,"]
    report = load([write_log(jobs=jobs(), callbacks=calls)], book)

    assert [(r.line, r.column, r.reason) for r in report.rejects] == [
        (line, "called_back_on", "after 2025-06-02, the day of loading") for line in (3, 4)
    ]
    assert frame_of(book, "callbacks")["firm_id"].tolist() == ["n"]


def test_the_recorded_day_counts_and_not_that_of_a_rebuild(
    book: Book, write_log: WriteLog, frame_of: Frame, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = [CALLS, "s,a,2025-06-03,blockage,"]
    load([write_log(jobs=jobs("2025-06-20"), callbacks=calls)], book)
    names = ("ftr_callback", "follow_up_end", "rejects", "row_warnings")
    before = [frame_of(book, name) for name in names]
    monkeypatch.setattr(f"{__name__}.LOADED", LOADED + timedelta(days=60))
    for stamp in book.checked.glob("*/stamp.json"):
        stamp.write_text("{}", encoding="utf-8")
    os.unlink(book.current())
    rebuild(book)

    for name, frame in zip(names, before, strict=True):
        pd.testing.assert_frame_equal(frame_of(book, name), frame)
    assert len(before[2]) == 1


def test_two_causes_on_one_day_are_two_callbacks(book: Book, write_log: WriteLog, frame_of: Frame) -> None:
    calls = [CALLS, "n,a,2025-04-01,leak,", "n,a,2025-04-01,blockage,", "s,a,2025-04-01,leak,", "s,a,2025-04-01,leak,"]
    report = load([write_log(jobs=jobs(), callbacks=calls)], book)
    got = frame_of(book, "ftr_callback").set_index("firm_id")

    assert not report.rejects
    assert (report.tables["callbacks"].accepted, report.tables["callbacks"].duplicates) == (3, 1)
    assert (got["first_debris_day"]["n"], got["first_other_day"]["n"]) == (28, 28)
    assert pd.isna(got["first_debris_day"]["s"])
    assert got["first_other_day"]["s"] == 28


def test_one_cause_on_one_day_with_two_answers_is_still_a_conflict(book: Book, write_log: WriteLog) -> None:
    calls = [CALLS, "n,a,2025-04-01,pump,yes", "n,a,2025-04-01,pump,no", "s,a,2025-04-01,pump,yes"]
    report = load([write_log(jobs=jobs(), callbacks=calls)], book)

    assert [(r.line, r.column, r.value) for r in report.rejects] == [
        (2, "called_back_on", "2025-04-01"),
        (3, "called_back_on", "2025-04-01"),
    ]


def test_a_later_answer_takes_the_place_of_the_same_cause_only(
    book: Book, write_log: WriteLog, frame_of: Frame
) -> None:
    load([write_log(jobs=jobs(), callbacks=[CALLS, "n,a,2025-04-01,pump,yes", "n,a,2025-04-01,leak,"])], book)
    report = load([write_log(callbacks=[CALLS, "n,a,2025-04-01,pump,no", "s,a,2025-04-01,pump,"])], book)
    got = frame_of(book, "callbacks").sort_values(["firm_id", "cause"])

    assert report.tables["callbacks"].accepted == 2
    assert got[["firm_id", "cause"]].values.tolist() == [["n", "leak"], ["n", "pump"], ["s", "pump"]]
    assert got["debris_related"].astype(object).where(got["debris_related"].notna(), None).tolist() == [
        None,
        False,
        None,
    ]


def test_of_a_firm_without_callbacks_the_list_of_jobs_does_not_say_how_long_it_was_followed(
    book: Book, write_log: WriteLog
) -> None:
    load([write_log(jobs=jobs(), callbacks=[CALLS, "n,a,2025-04-01,leak,"])], book)
    listed = read_named(book.current(), "reads/job_list").set_index("firm_id")

    assert listed["followed_days"]["n"] == 90
    assert listed.loc["s", ["followed_days", "has_debris_callback_365", "is_censored_365"]].isna().all()


def handed_in(day: date, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(f"{__name__}.LOADED", day)


def test_jobs_handed_in_one_by_one_are_followed_as_long_as_the_same_jobs_handed_in_together(
    book: Book, tmp_path: Path, write_log: WriteLog, frame_of: Frame, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A week after each visit the job, a day after each the callback; then the same rows on one day."""
    visits = {f"j{at}": date(2025, 1, 1) + timedelta(days=30 * at) for at in range(8)}
    rows = {job: f"n,{job},sealed,{day},{day}T09:00,{day}T15:00," for job, day in visits.items()}
    calls = {"j0": date(2025, 5, 20), "j4": date(2025, 6, 11), "j1": date(2025, 9, 17)}
    steps = sorted(
        [(day + timedelta(days=7), "jobs", rows[job]) for job, day in visits.items()]
        + [(day + timedelta(days=1), "callbacks", f"n,{job},{day},blockage,") for job, day in calls.items()]
    )
    for day, table, row in steps:
        handed_in(day, monkeypatch)
        load([write_log(**{table: [HEAD if table == "jobs" else CALLS, row]})], book)
    together, at_once = Book(tmp_path / "together"), [row for _, table, row in steps if table == "callbacks"]
    load([write_log(jobs=[HEAD, *rows.values()], callbacks=[CALLS, *at_once])], together)

    found, wanted = frame_of(book, "ftr_callback"), frame_of(together, "ftr_callback")
    pd.testing.assert_frame_equal(found, wanted)
    assert found["followed_days"].tolist() == [(date(2025, 9, 18) - day).days for day in visits.values()]
    assert found["first_debris_day"].dropna().tolist() == [139.0, 229.0, 41.0]


def test_an_empty_table_of_callbacks_says_that_there_were_none_up_to_its_day(
    book: Book, write_log: WriteLog, frame_of: Frame, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = [HEAD, jobs()[1]]
    load([write_log(jobs=own, callbacks=[CALLS, "n,a,2025-03-14,leak,"])], book)
    handed_in(LOADED + timedelta(days=100), monkeypatch)
    load([write_log(callbacks=[CALLS])], book)

    assert frame_of(book, "follow_up_end")["callbacks_known_to"].dt.date.tolist() == [date(2025, 9, 10)]
    assert frame_of(book, "ftr_callback")["followed_days"].tolist() == [190]
