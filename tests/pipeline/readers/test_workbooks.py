"""XLSX, ODS, Parquet, JSON lines, ZIP and folders: the same records, whatever the file."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import polars as pl
import pytest
import xlsxwriter

from pipeline.contract.findings import BadInput
from pipeline.readers.files import find_in, find_tables, read_text_table, tables_in
from pipeline.readers.spreadsheet_serials import serial_text
from pipeline.readers.text_tables import LINE, TextTable
from tests.made_files import ods, ods_cell, ods_of_xml, xlsx, zipped


def read(folder: Path, name: str, data: bytes) -> TextTable:
    (folder / name).write_bytes(data)
    (found,) = find_tables(folder / name)
    return found.read()


def test_sheets_keep_their_lines_and_start_at_the_first_row_that_holds_anything(tmp_path: Path) -> None:
    sheet = [[None, None], ["a", "B  b"], ["1", "x\ny"], [None, None], ["2", None]]
    for name, data in (("log.xlsx", xlsx({"jobs": sheet})), ("log.ods", ods({"jobs": sheet}))):
        text = read(tmp_path, name, data)
        assert (text.headings, text.frame.rows()) == (("a", "b b"), [("1", "x\ny", 3), ("2", None, 5)])


def test_a_title_above_the_headings_of_a_sheet_is_left_aside_and_said(tmp_path: Path) -> None:
    sheet = [["Work of 2025"], [None], ["job", "day", "mass"], ["A", "x", "1"]]
    text = read(tmp_path, "log.xlsx", xlsx({"Sheet1": sheet}))

    assert (text.headings, text.frame.rows()) == (("job", "day", "mass"), [("A", "x", "1", 4)])
    assert [finding.facts["line"] for finding in text.findings] == [3]


def test_days_moments_clock_times_and_yes_no_of_an_xlsx_sheet_are_read_as_text(tmp_path: Path) -> None:
    with xlsxwriter.Workbook(str(tmp_path / "log.xlsx")) as book:
        sheet = book.add_worksheet("jobs")
        forms = [book.add_format({"num_format": form}) for form in ("yyyy-mm-dd", "dd/mm/yy hh:mm", "hh:mm")]
        for column, heading in enumerate(("visit_date", "flush_started_at", "clock", "flag", "n", "x")):
            sheet.write(0, column, heading)
        sheet.write_datetime(1, 0, datetime(2025, 3, 4), forms[0])
        sheet.write_datetime(1, 1, datetime(2025, 3, 4, 9, 15), forms[1])
        sheet.write_number(1, 2, 9.25 / 24, forms[2])
        sheet.write_boolean(1, 3, True)
        sheet.write_number(1, 4, 0.1 + 0.2)
        sheet.write_string(1, 5, "=1+1")
    (found,) = find_tables(tmp_path / "log.xlsx")

    assert found.read().frame.drop(LINE).row(0) == (
        "2025-03-04 00:00:00",
        "2025-03-04 09:15:00",
        "09:15:00",
        "yes",
        "0.3",
        "=1+1",
    )


def test_days_moments_clock_times_and_yes_no_of_an_ods_sheet_are_read_as_text(tmp_path: Path) -> None:
    row = [("date", "2025-03-04"), ("date", "2025-03-04T09:15:00"), ("time", "PT09H15M00S"), ("boolean", "true"), 1.5]
    text = read(tmp_path, "log.ods", ods({"jobs": [["a", "b", "c", "d", "e"], row]}))

    assert text.frame.drop(LINE).row(0) == ("2025-03-04", "2025-03-04T09:15:00", "09:15:00", "yes", "1.5")


def test_repeated_rows_and_cells_of_an_ods_sheet_are_unfolded_and_notes_left_out(tmp_path: Path) -> None:
    note = '<table:table-cell office:value-type="string"><office:annotation><text:p>note</text:p></office:annotation>'
    twice = ods_cell("7").replace("<table:table-cell", '<table:table-cell table:number-columns-repeated="2"', 1)
    rows = (
        f"<table:table-row>{ods_cell('a')}{ods_cell('b')}{ods_cell('c')}</table:table-row>"
        f'<table:table-row table:number-rows-repeated="3"><table:table-cell/></table:table-row>'
        f'<table:table-row table:number-rows-repeated="2">{note}<text:p>x<text:s text:c="2"/>y</text:p>'
        f"</table:table-cell>{twice}</table:table-row>"
        '<table:table-row table:number-rows-repeated="1048570">'
        '<table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
    )
    text = read(tmp_path, "log.ods", ods_of_xml({"jobs": rows}))

    assert text.frame.rows() == [("x  y", "7", "7", 5), ("x  y", "7", "7", 6)]


def test_day_numbers_in_date_columns_of_a_sheet_are_days(tmp_path: Path) -> None:
    """Day 45720 of a spreadsheet is 2025-03-04: day 25569 is 1970-01-01, by the definition of the count."""
    sheet = [["job_id", "visit_date", "flush_started_at", "crew_size"], ["45720", 45720, 45720.385416666664, 45720]]
    for name, data in (("log.xlsx", xlsx({"Jobs": sheet})), ("log.ods", ods({"Jobs": sheet}))):
        row = read(tmp_path, name, data).frame.drop(LINE).row(0)
        assert row == ("45720", "2025-03-04", "2025-03-04T09:15:00", "45720")


def test_day_numbers_count_from_1970_as_the_calendar_does() -> None:
    frame = pl.DataFrame({"x": ["25569", "29221", "36526", "99999", "1e5", "45720.5"]})
    days = frame.select(serial_text(pl.col("x"), whole_days=True, from_1904=False)).to_series().to_list()

    assert days == [None, str(date(1980, 1, 1)), str(date(2000, 1, 1)), None, None, "2025-03-04"]


def test_parquet_is_read_in_the_job_logs_spelling(tmp_path: Path) -> None:
    moments = [datetime(2025, 3, 4, 9, 15, 0, 250000), datetime(2025, 3, 4)]
    frame = pl.DataFrame({"Read_At": moments, "ok": [True, None], "n": [1.5, None], "d": [date(2025, 3, 4), None]})
    frame.write_parquet(tmp_path / "readings.parquet")

    assert read_text_table(tmp_path / "readings.parquet", "readings").frame.rows() == [
        ("2025-03-04T09:15:00.250000", "yes", "1.5", "2025-03-04", 2),
        ("2025-03-04T00:00:00", None, None, None, 3),
    ]


def test_parquet_with_lists_in_its_cells_is_refused(tmp_path: Path) -> None:
    pl.DataFrame({"a": [[1, 2]]}).write_parquet(tmp_path / "jobs.parquet")
    with pytest.raises(BadInput, match="more than one value"):
        read_text_table(tmp_path / "jobs.parquet", "jobs")


def test_json_lines_keep_numbers_as_written_and_break_line_by_line(tmp_path: Path) -> None:
    lines = [
        '{"A": 1.50, "b": true}',
        "",
        '{"a": 1, "a": 2}',
        '{"b": [1]}',
        "nonsense",
        "[" * 100_000,
        '{"b": " x "}',
        '{"b": "\\ud800"}',
        "7",
    ]
    text = read(tmp_path, "jobs.jsonl", "\n".join(lines).encode())

    assert text.frame.rows() == [("1.50", "yes", 1), (None, "x", 7)]
    assert [row.line for row in text.broken] == [3, 4, 5, 6, 8, 9]


def test_headings_of_json_lines_that_differ_in_capitals_only_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="more than once"):
        read(tmp_path, "jobs.jsonl", b'{"A": 1}\n{"a": 2}\n')


def test_an_archive_gives_its_tables_under_names_that_show_the_way(tmp_path: Path) -> None:
    inner = xlsx({"catches": [["job_id"], ["A"]], "Notes": [["b"], ["1"]]})
    members = {
        "in/jobs.csv": "job_id;x\nA;1\n",
        "log.xlsx": inner,
        "read me.txt": "x",
        "more.zip": zipped({"a": "b"}),
        "__MACOSX/jobs.csv": "x",
        "r.jsonl": '{"a": 1}',
    }
    (tmp_path / "all.zip").write_bytes(zipped(members))
    found = find_in([tmp_path / "all.zip"])

    assert [(t.name, t.stem, t.table) for t in found.tables] == [
        ("all.zip/in/jobs.csv", "jobs", "jobs"),
        ("all.zip/log.xlsx/catches", "catches", "catches"),
        ("all.zip/log.xlsx/Notes", "Notes", None),
        ("all.zip/r.jsonl", "r", None),
    ]
    assert [t.read().rows for t in found.tables] == [1, 1, 1, 1]
    assert [f.facts["file"] for f in found.findings] == ["all.zip/read me.txt", "all.zip/more.zip"]
    assert tables_in(tmp_path / "all.zip") == ("jobs", "catches")
    assert read_text_table(tmp_path / "all.zip", "catches").frame.rows() == [("A", 2)]


def test_folders_are_searched_whole_and_links_out_of_them_are_not_followed(tmp_path: Path) -> None:
    inside, outside = tmp_path / "log" / "2025", tmp_path / "secret.csv"
    inside.mkdir(parents=True)
    outside.write_text("a\n1\n")
    (inside / "jobs.csv").write_text("a\n1\n")
    (tmp_path / "log" / "jobs.csv").write_text("a\n1\n")
    (tmp_path / "log" / ".hidden.csv").write_text("a\n1\n")
    (tmp_path / "log" / "link.csv").symlink_to(outside)

    assert [found.name for found in find_tables(tmp_path / "log")] == ["2025/jobs.csv", "jobs.csv"]


def test_files_of_the_same_name_are_told_apart_by_their_folders(tmp_path: Path) -> None:
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "jobs.csv").write_text("a\n1\n")

    found = find_in([tmp_path / "a" / "jobs.csv", tmp_path / "b" / "jobs.csv"])
    assert [table.name for table in found.tables] == ["a/jobs.csv", "b/jobs.csv"]


def test_a_path_that_is_not_there_is_named() -> None:
    with pytest.raises(BadInput, match="is not there"):
        find_tables(Path("nowhere.csv"))
