"""History that small firms have: one figure a job, in a spreadsheet with a title and a sum below."""

from __future__ import annotations

from pathlib import Path

import pytest
import xlsxwriter

from dashboard.services import auditing, training
from dashboard.services.build_tables import watched_job_frames, whole_tables
from models.catch.records.job_frames import job_catch
from models.refusals import Refusal
from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.mapping.mapping_file import write_mapping
from pipeline.mapping.propose import propose
from pipeline.quotes.quoted_and_done_rows import quoted_and_done
from pipeline.readers.files import find_tables
from pipeline.store.book import Book, read_table
from tests.pipeline.conftest import WriteLog

SHEET: list[list[object]] = [
    ["Ridge Heating, flushes of 2024"],
    [],
    ["Job no", "Date", "Rads", "Age of rads", "Sludge (kg)", "Hours", "Price charged", "Came back?"],
    ["R1", "2024-03-05", 9, 15, 1.2, 6.5, 640, "no"],
    ["R2", "2024-03-09", 12, 30, 2.4, 8, 820, "yes"],
    ["R3", "2024-04-02", 7, "", 0.6, 5, 480, "no"],
    ["Total", "", "", "", 4.2, 19.5, 1940, ""],
]
MAPPED = {
    "job no": "job_id",
    "date": "visit_date",
    "rads": "emitter_count_at_survey",
    "age of rads": "emitter_age_years",
    "sludge (kg)": "caught_total_kg",
    "hours": "worked_hours",
    "price charged": "charged_price",
    "came back?": "came_back",
}
HEAD = (
    "firm_id,job_id,visit_date,emitter_count_at_survey,caught_total_kg,caught_total_weighed,worked_hours,"
    "charged_price,came_back"
)
NONE = float("nan")
ROWS = ("n,a,2024-03-05,9,1.2,,6.5,640,no", "s,a,2024-03-05,9,1.2,dry,4,,", "n,b,2024-03-06,12,,,,820,yes")


def test_a_sheet_with_title_and_sum_is_mapped_without_a_question(tmp_path: Path) -> None:
    with xlsxwriter.Workbook(str(tmp_path / "flushes.xlsx")) as workbook:
        sheet = workbook.add_worksheet("2024")
        for line, cells in enumerate(SHEET):
            sheet.write_row(line, 0, cells)

    made = propose(find_tables(tmp_path / "flushes.xlsx"))

    assert made.questions == ()
    (table,) = made.mapping.tables
    assert {each.heading: each.column for each in table.columns} == MAPPED
    book = Book(tmp_path / "book")
    write_mapping(tmp_path / "mapping.toml", made.mapping, made)
    report = load([tmp_path / "flushes.xlsx"], book, mapping_file=tmp_path / "mapping.toml")
    jobs = read_table(book.current(), "jobs").sort_values("job_id")
    assert jobs["job_id"].tolist() == ["R1", "R2", "R3"]
    assert jobs["caught_total_kg"].tolist() == [1.2, 2.4, 0.6]
    assert jobs["worked_hours"].tolist() == [6.5, 8.0, 5.0]
    assert [each.code for each in report.findings if each.code == "kept_by_totals"] == ["kept_by_totals"]


@pytest.fixture
def totals(book: Book, write_log: WriteLog) -> Book:
    load([write_log(jobs=[HEAD, *ROWS])], book)
    return book


def test_totals_stand_where_no_weighing_and_no_clock_does(totals: Book) -> None:
    """Wet 1.2 kg at the usual ratio of 2 are 0.6 dry; weighed dry they are 1.2; 6.5 h are 390 min."""
    found = read_table(totals.current(), "ftr_outcome").set_index(["firm_id", "job_id"])

    assert found["magnetite_kg"].to_dict() == pytest.approx(
        {("n", "a"): 0.6, ("s", "a"): 1.2, ("n", "b"): NONE}, nan_ok=True
    )
    assert found["site_minutes"].to_dict() == pytest.approx(
        {("n", "a"): 390, ("s", "a"): 240, ("n", "b"): NONE}, nan_ok=True
    )
    assert found["flush_minutes"].isna().all()
    volume = read_table(totals.current(), "ftr_volume").set_index(["firm_id", "job_id"])
    assert volume["emitter_count"].tolist() == [9, 12, 9]


def test_own_weighings_and_own_times_go_before_totals(book: Book, write_log: WriteLog) -> None:
    heads = HEAD + ",system_type,flush_started_at,flush_ended_at,arrived_at,left_at"
    times = "sealed,2024-03-05T09:00,2024-03-05T12:00,2024-03-05T08:00,2024-03-05T13:00"
    catches = [
        "firm_id,job_id,caught_at,trap,mass_g",
        "n,a,2024-03-05T10:00,magnet,400",
        "s,a,2024-03-05T10:00,strainer,90",
    ]
    load(
        [
            write_log(
                jobs=[heads, f"n,a,2024-03-05,9,1.2,,6.5,,,{times}", f"s,a,2024-03-05,9,1.2,,6.5,,,{times}"],
                catches=catches,
            )
        ],
        book,
    )

    found = read_table(book.current(), "ftr_outcome").set_index(["firm_id", "job_id"])
    assert found["site_minutes"].tolist() == [300, 300]
    assert found["magnetite_kg"].to_dict() == pytest.approx({("n", "a"): 0.2, ("s", "a"): NONE}, nan_ok=True)


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("n,a,2024-03-05,9,,,,,,sealed,,", "flush_started_at"),
        ("n,a,2024-03-05,9,1.2,,,,,sealed,2024-03-05T09:00,", "flush_ended_at"),
        ("n,a,2024-03-05,9,,,,,,,2024-03-05T09:00,2024-03-05T10:00", "system_type"),
    ],
)
def test_a_job_without_times_or_system_needs_a_total_and_half_a_time_is_none(
    row: str, column: str, book: Book, write_log: WriteLog
) -> None:
    report = load([write_log(jobs=[f"{HEAD},system_type,flush_started_at,flush_ended_at", row, ROWS[1] + ",,,"])], book)

    assert column in {each.column for each in report.rejects}
    assert {each.reason for each in report.rejects} == {"empty, but required"}
    assert report.tables["jobs"].accepted == 1


def test_the_price_charged_stands_where_none_was_quoted(totals: Book) -> None:
    rows = quoted_and_done(totals, totals.current()).set_index(["firm_id", "job_id"])

    assert rows["quoted_price"].to_dict() == pytest.approx(
        {("n", "a"): 640, ("n", "b"): 820, ("s", "a"): NONE}, nan_ok=True
    )


def test_a_job_kept_by_totals_is_learnt_from_and_has_no_catch_to_watch(totals: Book) -> None:
    trained = training.train(totals)

    assert trained.quote.jobs == 3
    with pytest.raises(BadInput, match="'a' has no start of the flush, so that there is no catch to watch"):
        job_catch(watched_job_frames(whole_tables(totals.current())), "n", "a")


def test_came_back_without_a_day_counts_in_no_rate_and_that_is_said(totals: Book) -> None:
    with pytest.raises(Refusal, match="2 jobs say only whether they came back, and 1 did, on no day that is on record"):
        auditing.audit(whole_tables(totals.current()), totals.firm())


def test_of_a_firm_whose_returns_all_have_days_the_jobs_that_did_not_come_back_are_watched(
    book: Book, write_log: WriteLog
) -> None:
    """Firm n: b came back and its day is known, so that a, which did not, is watched; firm s: b's day is not known."""
    jobs = [
        HEAD,
        *(f"{firm},{job},2024-03-05,9,1.2,,5,,{back}" for firm in "ns" for job, back in (("a", "no"), ("b", "yes"))),
    ]
    visits = ["firm_id,job_id,called_back_on,cause,emitter_no", "n,b,2024-06-01,noise,3", "s,c,2024-06-01,noise,"]
    load([write_log(jobs=[*jobs, "s,c,2024-03-05,9,1.2,,5,,"], callbacks=visits)], book)

    found = read_table(book.current(), "ftr_callback").set_index(["firm_id", "job_id"])["followed_days"]
    assert {key: days > 0 for key, days in found.items()} == {
        ("n", "a"): True,
        ("n", "b"): True,
        ("s", "a"): False,
        ("s", "b"): False,
        ("s", "c"): True,
    }
    assert read_table(book.current(), "callbacks")["emitter_no"].fillna(0).tolist() == [3, 0]
