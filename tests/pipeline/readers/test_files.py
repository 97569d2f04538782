"""Files as text: each record with its line, broken records never end the file."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contract.findings import BadInput
from pipeline.readers.files import LINE, read_text_table, table_name, tables_in


def read(folder: Path, data: bytes, name: str = "jobs.csv") -> tuple[list[tuple[object, ...]], list[tuple[int, str]]]:
    (folder / name).write_bytes(data)
    text = read_text_table(folder / name, "jobs")
    return text.frame.rows(), [(row.line, row.reason) for row in text.broken]


def test_lines_count_blank_lines_and_line_breaks_in_cells(tmp_path: Path) -> None:
    rows, broken = read(tmp_path, b'a,b\n1,2\n\n3,"x\ny"\n4,5\n')

    assert rows == [("1", "2", 2), ("3", "x\ny", 4), ("4", "5", 6)]
    assert broken == []


def test_a_line_with_too_many_or_too_few_fields_is_broken_and_the_rest_is_read(tmp_path: Path) -> None:
    rows, broken = read(tmp_path, b"a,b\n1,2\n3\n4,5,6\n7,8\n")

    assert [row[-1] for row in rows] == [2, 5]
    assert broken == [(3, "the line has 1 fields, the heading has 2"), (4, "the line has 3 fields, the heading has 2")]


def test_a_line_that_is_not_utf8_is_broken_and_the_rest_is_read(tmp_path: Path) -> None:
    rows, broken = read(tmp_path, b"a,b\n1,2\n\xff,3\n4,5\n")

    assert [row[-1] for row in rows] == [2, 4]
    assert broken == [(3, "the line is not UTF-8 text")]


def test_byte_order_mark_windows_line_ends_and_capitals_in_headings(tmp_path: Path) -> None:
    rows, broken = read(tmp_path, b"\xef\xbb\xbfJob_ID, B \r\n1,2\r\n")

    assert (rows, broken) == ([("1", "2", 2)], [])
    assert read_text_table(tmp_path / "jobs.csv", "jobs").headings == ("job_id", "b")


def test_an_empty_cell_is_not_known_quoted_or_not(tmp_path: Path) -> None:
    rows, _ = read(tmp_path, b'a,b,c\n1,,""\n')
    assert rows == [("1", None, None, 2)]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [(b"", "is empty"), (b"\n\n", "is empty"), (b"a,a\n1,2\n", "more than once"), (b"\x00\x01,\x02\n", "binary data")],
)
def test_what_is_no_csv_table_is_refused_in_a_sentence(data: bytes, sentence: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=sentence):
        read(tmp_path, data)


def test_a_text_file_named_parquet_is_refused_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no readable PARQUET table"):
        read(tmp_path, b"not parquet", "jobs.parquet")


def test_names_of_files_and_sheets_stand_for_tables(tmp_path: Path) -> None:
    assert [table_name(n) for n in ("Jobs", "pipe runs", "pipe-runs", "invoices")] == [
        "jobs",
        "pipe_runs",
        "pipe_runs",
        None,
    ]
    assert tables_in(tmp_path / "jobs.txt") == ("jobs",)
    assert tables_in(tmp_path / "jobs.pdf") == ()


CELL = st.one_of(st.none(), st.text(alphabet=st.characters(codec="utf-8", exclude_characters="\x00\r"), min_size=1))


@settings(max_examples=60, deadline=None)
@given(rows=st.lists(st.tuples(CELL, CELL), max_size=8))
def test_whatever_is_written_as_csv_is_read_back(rows: list[tuple[str | None, str | None]], tmp_path_factory) -> None:
    path = tmp_path_factory.mktemp("csv") / "jobs.csv"
    pl.DataFrame(rows, schema={"a": pl.String, "b": pl.String}, orient="row").write_csv(path)
    text = read_text_table(path, "jobs")

    assert text.frame.drop(LINE).rows() == [row for row in rows if row != (None, None)]
    assert text.broken == ()
