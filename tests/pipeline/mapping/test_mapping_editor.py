"""A proposal as rows to edit and questions to answer, and the mapping that comes of it."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from pipeline.contract.findings import BadInput
from pipeline.intake.uploads import beside_kept, laid_out, sheet_for
from pipeline.mapping.confirmed_mapping import ColumnMap, Mapping, TableMap, open_questions
from pipeline.mapping.mapping_editor import MappingSheet, sheet_of
from pipeline.mapping.mapping_file import read_mapping, write_mapping
from pipeline.mapping.propose import propose
from pipeline.readers.files import find_in
from pipeline.store.book import Book

FOREIGN = Path(__file__).parents[2] / "data" / "foreign"


def sheet(firm: str) -> MappingSheet:
    return sheet_of(propose(find_in([p for p in sorted((FOREIGN / firm).iterdir()) if p.is_file()]).tables))


def confirmed(of: MappingSheet, answers: list[str | None]) -> Mapping:
    return of.confirmed([table.rows for table in of.tables], answers)


def table(mapping: Mapping, name: str) -> TableMap:
    return next(each for each in mapping.tables if each.table == name)


@pytest.mark.parametrize("firm", ["us_firm", "wide_firm", "comma_firm"])
def test_a_sheet_left_as_it_is_gives_the_proposed_mapping(firm: str) -> None:
    of = sheet(firm)

    assert confirmed(of, [None] * len(of.questions)).tables == tuple(each.proposed for each in of.tables)


def test_the_same_question_is_asked_once_for_all_columns() -> None:
    of = sheet("wide_firm")

    counts = {"dates": 1, "unit": 2, "constant": 1, "word": 1, "column": 2}
    assert Counter(asked.what for asked in of.questions) == counts
    (dates,) = (asked for asked in of.questions if asked.what == "dates")
    assert dates.choices == (("dmy", "day first"), ("mdy", "month first"))
    assert len(dates.places) == 2


def test_answers_settle_everything_that_was_open() -> None:
    of = sheet("wide_firm")
    answers = {"dates": "dmy", "unit": "mm", "constant": "magnet", "word": "open_vented"}

    mapping = confirmed(of, [answers.get(asked.what) or asked.choices[0][0] for asked in of.questions])

    assert (open_questions(mapping), mapping.open) == ((), ())
    columns = {(t.table, c.column): c for t in mapping.tables for c in t.columns}
    assert columns["jobs", "visit_date"].dates == columns["catches", "caught_at"].dates == "dmy"
    assert columns["jobs", "flush_started_at"] == ColumnMap(
        "flush_started_at", "start", dates="dmy", date_heading="date"
    )
    assert columns["catches", "trap"].constant == "magnet"
    assert ("y-plan", "open_vented") in columns["jobs", "system_type"].values
    assert columns["emitters", "height_mm"].unit == columns["emitters", "length_mm"].unit == "mm"


@pytest.mark.parametrize(("answer", "marks"), [("thousands ,", (".", ",")), ("decimal ,", (",", ""))])
def test_a_mark_that_can_be_read_two_ways_is_read_as_answered(answer: str, marks: tuple[str, str]) -> None:
    of = sheet("us_firm")

    mapping = confirmed(of, [answer if asked.what == "mark" else None for asked in of.questions])

    (output,) = (c for c in table(mapping, "jobs").columns if c.column == "boiler_output_kw")
    assert (output.decimal, output.thousands) == marks


def test_an_edited_cell_counts_before_an_answer_and_a_cleared_column_is_not_used() -> None:
    of = sheet("us_firm")
    rows = [[dict(row) for row in each.rows] for each in of.tables]
    jobs = next(n for n, each in enumerate(of.tables) if each.proposed.table == "jobs")
    for row in rows[jobs]:
        if row["column"] == "main_bore_mm":
            row["unit"] = "inch steel"
        if row["column"] == "hose_length_m":
            row["column"] = ""

    mapping = of.confirmed(rows, ["inch copper US" if asked.what == "unit" else None for asked in of.questions])

    columns = {c.column: c for c in table(mapping, "jobs").columns}
    assert columns["main_bore_mm"].unit == "inch steel"
    assert "hose_length_m" not in columns


def test_a_table_left_out_is_not_in_the_mapping() -> None:
    of = sheet("us_firm")
    rows = [each.rows if each.proposed.table != "readings" else None for each in of.tables]

    mapping = of.confirmed(rows, [None] * len(of.questions))

    assert {each.table for each in mapping.tables} == {"jobs", "catches"}


def test_what_the_book_knows_of_other_files_stays_known(tmp_path: Path) -> None:
    book = Book(tmp_path / "book")
    book.create()
    wide, other = sheet("wide_firm"), sheet("us_firm")
    first = confirmed(wide, [None] * len(wide.questions))
    write_mapping(book.path / "mapping.toml", first)

    answers = [asked.choices[0][0] for asked in other.questions]

    kept = read_mapping(beside_kept(confirmed(other, answers), book, tmp_path))

    assert Counter(each.source for each in kept.tables) == {
        "Flushes": 3,
        "visits": 1,
        "debris weights": 1,
        "meter log": 1,
    }


def test_a_column_chosen_twice_is_refused_in_a_sentence(tmp_path: Path) -> None:
    of = sheet("us_firm")
    rows = [[{**row, "column": "job_id"} for row in each.rows] for each in of.tables]

    with pytest.raises(BadInput, match=r"These headings cannot be used: .*'job_id' is mapped more than once"):
        beside_kept(of.confirmed(rows, [None] * len(of.questions)), Book(tmp_path), tmp_path)


def test_uploads_keep_their_names_and_never_climb(tmp_path: Path) -> None:
    names = ["jobs.csv", "..\\..\\jobs.csv", "..", "é" * 300 + "\0.csv"]

    paths = laid_out(list(zip(names, [b"a", b"b", b"c", b"d"], strict=True)), tmp_path)

    assert [path.read_bytes() for path in paths] == [b"a", b"b", b"c", b"d"]
    assert all(path.parent.parent == tmp_path for path in paths)
    assert [path.name for path in paths[:2]] == ["jobs.csv", "jobs.csv"]


def test_nothing_is_proposed_for_what_is_no_table(tmp_path: Path) -> None:
    assert sheet_for([("log.xlsx", b"no workbook")], tmp_path) is None


def test_a_heading_that_was_asked_about_is_taken_by_an_answer_left_out_by_one_and_open_by_none() -> None:
    of = sheet("wide_firm")
    start = next(number for number, asked in enumerate(of.questions) if asked.word == "start")
    for answer, taken, is_open in (("arrived_at", True, False), ("-", False, False), (None, False, True)):
        answers = [answer if number == start else asked.choices[0][0] for number, asked in enumerate(of.questions)]

        mapping = confirmed(of, answers)

        assert any(c.column == "arrived_at" for c in table(mapping, "jobs").columns) == taken
        assert any("“start”" in sentence for sentence in mapping.open) == is_open


def test_what_was_asked_and_not_answered_is_never_handed_in(tmp_path: Path) -> None:
    of = sheet("wide_firm")

    with pytest.raises(BadInput, match=r"Answer every question first; open is still: .*“y-plan”"):
        beside_kept(confirmed(of, [None] * len(of.questions)), Book(tmp_path), tmp_path)


def test_a_row_filled_in_by_hand_settles_what_was_asked_of_its_heading() -> None:
    of = sheet("comma_firm")
    rows = [[dict(row) for row in each.rows] for each in of.tables]
    price = next(row for each in rows for row in each if row["heading"] == "preis")
    price["column"] = "quoted_price"

    mapping = of.confirmed(rows, [None] * len(of.questions))

    (mapped,) = (c for c in table(mapping, "jobs").columns if c.column == "quoted_price")
    assert (mapped.decimal, mapped.thousands) == (",", ".")
    assert not any("“preis”" in sentence for sentence in mapping.open)
