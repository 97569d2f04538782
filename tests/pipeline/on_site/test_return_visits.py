"""What is heard of a job after it enters the book as if the office had handed it in."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.on_site.return_visits import note_all_well, note_return_visit
from pipeline.store.book import Book, read_table

JOBS = (
    "firm_id,job_id,system_type,visit_date,flush_started_at,flush_ended_at,inhibitor_dosed,quoted_price,survey_ph\n"
    "north,J1,sealed,2025-03-04,2025-03-04T09:00,2025-03-04T12:00,yes,512.5,8.25\n"
    "south,J1,open_vented,2025-03-05,2025-03-05T09:00,2025-03-05T12:00,no,,\n"
)


@pytest.fixture
def two_firms(book: Book, tmp_path: Path) -> Book:
    (tmp_path / "log").mkdir()
    (tmp_path / "log" / "jobs.csv").write_text(JOBS)
    load([tmp_path / "log"], book)
    return book


def test_a_return_visit_is_a_callback_of_that_firms_job_and_noted_twice_is_one(two_firms: Book) -> None:
    for _ in range(2):
        note_return_visit(two_firms, "south", "J1", date(2025, 5, 1), "blockage", True, 4)

    rows = read_table(two_firms.current(), "callbacks")[["firm_id", "job_id", "cause", "debris_related", "emitter_no"]]
    assert rows.to_numpy().tolist() == [["south", "J1", "blockage", True, 4]]


@pytest.mark.parametrize("day", [date(2025, 3, 4), date.today() + timedelta(days=1)])
def test_one_before_the_visit_or_still_to_come_is_refused_and_nothing_is_kept(two_firms: Book, day: date) -> None:
    with pytest.raises(BadInput, match="Not noted: called_back_on"):
        note_return_visit(two_firms, "south", "J1", day, "blockage")

    assert read_table(two_firms.current(), "callbacks").empty


def test_asked_and_all_was_well_ends_the_follow_up_that_day_and_leaves_the_rest_as_it_was(two_firms: Book) -> None:
    before = read_table(two_firms.current(), "jobs").drop(columns="followed_until")
    note_all_well(two_firms, "north", "J1", date(2025, 9, 1))

    after = read_table(two_firms.current(), "jobs")
    assert [str(day)[:10] for day in after["followed_until"]] == ["2025-09-01", "NaT"]
    same = [name for name in before.columns if name not in ("batch_id", "file", "line", "row_hash")]
    assert after[same].equals(before[same])


@pytest.mark.parametrize("day", [date(2025, 9, 1), date(2025, 8, 31)])
def test_what_is_known_already_is_said(two_firms: Book, day: date) -> None:
    note_all_well(two_firms, "north", "J1", date(2025, 9, 1))

    with pytest.raises(BadInput, match="J1 was followed up to 01/09/2025 already"):
        note_all_well(two_firms, "north", "J1", day)
    note_all_well(two_firms, "north", "J1", date(2025, 9, 2))


def test_a_job_that_the_book_does_not_have_is_said(two_firms: Book) -> None:
    with pytest.raises(BadInput, match="The book has no job J2 of north"):
        note_all_well(two_firms, "north", "J2", date(2025, 9, 1))
