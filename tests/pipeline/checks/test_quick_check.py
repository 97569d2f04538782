"""The quick way through clean pieces gives the rows of the row-by-row checks, and gives up where it must."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.checks.check_rows import check_rows
from pipeline.checks.quick_check import quick_rows, quick_typed
from pipeline.contract import JOB_LOG
from pipeline.intake.load import load
from pipeline.readers.csv_chunks import Piece, pieces, plain_csv, without_quoted
from pipeline.readers.files import read_text_table
from pipeline.readers.parquet_slices import parquet_slices
from pipeline.store.book import Book, read_table

TODAY = date(2026, 11, 1)
READINGS = JOB_LOG["readings"]
HEAD = "job_id,read_at,flow_l_min,ph"


def piece_of(text: str) -> Piece:
    return Piece(text.encode(), 2, len(text.splitlines()))


@pytest.mark.parametrize("table", ["jobs", "emitters", "catches", "readings", "pipe_runs", "callbacks"])
def test_a_clean_log_read_quickly_equals_it_read_row_by_row(table: str, small_logs: Path) -> None:
    path = small_logs / f"{table}.csv"
    plain = plain_csv(path)
    assert plain is not None
    slow = check_rows(JOB_LOG[table], path.name, read_text_table(path, table), TODAY).accepted
    for size in (1 << 26, 3000):
        for whole in pieces(plain, size):
            halves = without_quoted(whole)
            assert halves is not None
            piece = halves[0]
            rows = quick_rows(piece, plain.headings, JOB_LOG[table], TODAY)
            assert rows is not None
            assert rows.equals(slow.filter(slow["line"].is_in(rows["line"].implode())))


@pytest.mark.parametrize(
    "row",
    [
        "a,2025-03-04T09:00,20",  # a field too few
        "a,2025-03-04T09:00,20,7,9",  # a field too many
        "a,2025-03-04T09:00,twenty,7",
        "a,2025-03-04T09:00,nan,7",
        "a,2025-03-04T09:00,inf,7",
        "a,2025-03-04T09:00,201,7",  # over 200 L/min
        "a,2025-03-04T09:00,-1,7",
        "a,04/03/2025 09:00,20,7",
        "a,2025-03-04T09:00Z,20,7",
        ",2025-03-04T09:00,20,7",  # no job
        "a,,20,7",  # no time
        'a,2025-03-04T09:00,"20",7',
        "a ,2025-03-04T09:00,20,7",
        "",
    ],
)
def test_a_piece_with_anything_doubtful_is_left_to_the_row_by_row_checks(row: str) -> None:
    good = "a,2025-03-04T10:00,20,7\n"
    assert quick_rows(piece_of(good), tuple(HEAD.split(",")), READINGS, TODAY) is not None
    assert quick_rows(piece_of(f"{good}{row}\n"), tuple(HEAD.split(",")), READINGS, TODAY) is None


def test_a_job_that_breaks_a_rule_between_columns_is_left_to_the_row_by_row_checks() -> None:
    head = ("job_id", "system_type", "visit_date", "flush_started_at", "flush_ended_at")
    good = "a,sealed,2025-03-04,2025-03-04T09:00,2025-03-04T15:00\n"
    late = "b,sealed,2025-03-04,2025-03-04T09:00,2025-03-04T08:00\n"
    assert quick_rows(piece_of(good), head, JOB_LOG["jobs"], TODAY) is not None
    assert quick_rows(piece_of(good), head, JOB_LOG["jobs"], date(2025, 3, 3)) is None
    assert quick_rows(piece_of(good + late), head, JOB_LOG["jobs"], TODAY) is None


def test_pieces_hold_every_line_once_and_know_where_they_stand(tmp_path: Path) -> None:
    lines = [f"{i},{'x' * (i % 7)}" for i in range(500)]
    lines[100] = '100,"two\nlines, one cell"'
    text = "a,b\n" + "\n".join(lines)
    (tmp_path / "t.csv").write_text(text, encoding="utf-8")
    plain = plain_csv(tmp_path / "t.csv")
    assert plain is not None
    got = list(pieces(plain, size=100))

    assert b"".join(piece.data for piece in got) == text[4:].encode()
    assert [piece.first_line for piece in got] == [2 + sum(p.lines for p in got[:i]) for i in range(len(got))]
    assert all(piece.data.count(b'"') % 2 == 0 for piece in got)
    assert len(got) > 20


@pytest.mark.parametrize("head", ["a;b\n1;2\n", '"a",b\n1,2\n', "a,a\n1,2\n", "\x00,b\n", "a,b", ",\n"])
def test_what_is_not_plain_csv_is_left_to_the_other_readers(head: str, tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_text(head, encoding="utf-8")
    assert plain_csv(tmp_path / "t.csv") is None


def test_lines_with_quotes_are_judged_apart_and_keep_their_lines(tmp_path: Path) -> None:
    lines = ["job_id,catch_no,caught_at,trap,mass_g,note"]
    notes = ['"fine, like ink"' if i % 3 == 0 else "x y" for i in range(30)]
    lines += [f"a,{i},2025-03-04T10:{i:02d},magnet,{i},{notes[i]}" for i in range(1, 30)]
    lines[7] = lines[7].replace("magnet", "bucket")
    (tmp_path / "catches.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    book = Book(tmp_path / "book")
    jobs = "job_id,system_type,visit_date,flush_started_at,flush_ended_at\na,sealed,2025-03-04,"
    (tmp_path / "jobs.csv").write_text(f"{jobs}2025-03-04T09:00,2025-03-04T15:00\n", encoding="utf-8")
    report = load([tmp_path / "jobs.csv", tmp_path / "catches.csv"], book)

    assert [(r.line, r.value) for r in report.rejects] == [(8, "bucket")]
    got = read_table(book.current(), "catches")
    assert got["note"].tolist() == ["fine, like ink" if i % 3 == 0 else "x y" for i in range(1, 30) if i != 7]


@pytest.mark.parametrize("table", ["jobs", "emitters", "catches", "readings", "callbacks"])
def test_parquet_read_quickly_equals_the_csv_of_the_same_log(table: str, small_logs: Path, tmp_path: Path) -> None:
    slow = check_rows(JOB_LOG[table], "t", read_text_table(small_logs / f"{table}.csv", table), TODAY).accepted
    slow.drop("line").write_parquet(tmp_path / f"{table}.parquet")
    first, got = 2, []
    for raw in parquet_slices(tmp_path / f"{table}.parquet", "t", rows=37):
        rows = quick_typed(raw, first, JOB_LOG[table], TODAY)
        assert rows is not None
        got.append(rows)
        first += raw.height

    assert pl.concat(got).equals(slow)


@pytest.mark.parametrize(
    "column",
    [
        pl.Series("flow_l_min", [20.0, 201.0]),
        pl.Series("flow_l_min", [20.0, float("nan")]),
        pl.Series("flow_l_min", ["20", "21"]),
        pl.Series("job_id", ["a", " a"]),
        pl.Series("job_id", ["a", None]),
        pl.Series("focus_emitter_no", [1.0, 2.5]),
    ],
)
def test_parquet_with_anything_doubtful_is_left_to_the_row_by_row_checks(column: pl.Series) -> None:
    times = [datetime(2025, 3, 4, 9), datetime(2025, 3, 4, 10)]
    good = pl.DataFrame({"job_id": ["a", "a"], "read_at": times, "flow_l_min": [20.0, 21.0]})
    assert quick_typed(good, 2, READINGS, TODAY) is not None
    assert quick_typed(good.with_columns(column), 2, READINGS, TODAY) is None
