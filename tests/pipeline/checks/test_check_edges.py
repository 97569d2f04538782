"""Checks at their edges: versions of a key, pieces, spans, rows as they came; two firms share every job number."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from functools import partial
from pathlib import Path
from threading import Event

import polars as pl
import pytest

from pipeline.checks import original_rows as originals
from pipeline.checks.batch_sources import TableSource
from pipeline.checks.check_rows import check_rows, check_table, conflicts
from pipeline.checks.in_turn import AHEAD, in_turn
from pipeline.checks.original_rows import original_rows
from pipeline.checks.quick_check import quick_rows, quick_typed
from pipeline.checks.spans import runs_of, spans_of
from pipeline.contract import JOB_LOG
from pipeline.readers.csv_chunks import Piece, pieces
from pipeline.readers.files import LINE, BrokenRow, TextTable, read_text_table

TODAY = date(2026, 1, 1)
CATCHES = JOB_LOG["catches"]
KEYS = {"firm_id": pl.String, "job_id": pl.String, "catch_no": pl.String, "mass_g": pl.String}


def catches(*rows: tuple[str, str, str, str], first: int = 2) -> TextTable:
    frame = pl.DataFrame(rows, schema=KEYS, orient="row").with_columns(
        caught_at=pl.lit("2025-03-04T10:00"), trap=pl.lit("magnet")
    )
    return TextTable(frame.with_columns(pl.int_range(first, first + len(rows), dtype=pl.Int64).alias(LINE)))


def test_versions_of_a_key_each_name_the_first_of_the_others_and_the_first_names_the_last() -> None:
    """Lines 2, 4 and 6 are one key with two masses, line 3 the same of another firm, 5 and 7 repeat each other."""
    text = catches(
        ("n", "a", "1", "5"),
        ("s", "a", "1", "6"),
        ("n", "a", "1", "6"),
        ("n", "a", "2", "7"),
        ("n", "a", "1", "5"),
        ("n", "a", "2", "7"),
    )

    found = check_table("catches", "c.csv", text, TODAY)

    assert found.rejects.select("line", "firm_id", "column_name", "value", "reason").rows() == [
        (2, "n", "catch_no", "1", "the same key stands with different content at line 6"),
        (4, "n", "catch_no", "1", "the same key stands with different content at line 2"),
        (6, "n", "catch_no", "1", "the same key stands with different content at line 2"),
    ]
    assert found.accepted[LINE].to_list() == [3, 5, 7]
    assert conflicts(CATCHES, "c.csv", found.accepted.clear()).height == 0


def test_a_broken_row_is_told_with_the_first_500_signs_and_counts_as_a_row() -> None:
    text = catches(("n", "a", "1", "5"))
    broken = TextTable(text.frame, (BrokenRow(3, "x" * 501, "the line has too many fields"),))

    found = check_rows(CATCHES, "c.csv", broken, TODAY)

    assert found.rows == 2
    assert found.rejects.select("line", "column_name", "value", "reason", "job_id").rows() == [
        (3, "", "x" * 500, "the line has too many fields", None)
    ]


WORDS = ["yes", "no", "true", "false", "y", "n", "1", "0", "YES", "No", ""]


def test_words_for_yes_and_no_are_the_same_by_both_readers() -> None:
    head = ("job_id", "emitter_no", "cold_at_survey")
    data = "".join(f"a,{n},{word}\n" for n, word in enumerate(WORDS, start=1)).encode()
    cells = {"job_id": ["a"] * len(WORDS), "emitter_no": [str(n + 1) for n in range(len(WORDS))]}
    frame = pl.DataFrame({**cells, "cold_at_survey": WORDS, LINE: range(2, 2 + len(WORDS))})
    slow = check_rows(JOB_LOG["emitters"], "e.csv", TextTable(frame), TODAY)

    quick = quick_rows(Piece(data, 2, len(WORDS)), head, JOB_LOG["emitters"], TODAY)

    yes_no = [True, False] * 4 + [True, False, None]
    assert slow.accepted["cold_at_survey"].to_list() == yes_no
    assert quick is not None
    assert quick.equals(slow.accepted)


@pytest.mark.parametrize(
    "line",
    ["a,1,maybe", " a,1,yes", "a,1,yes ", "a, 1,yes", "a ,1,yes", "a,1,y\tes", "a@b,1,yes", "a\x00,1,yes", "a,1"],
)
@pytest.mark.parametrize("place", [0, 1])
def test_a_doubtful_line_first_or_last_is_left_to_the_thorough_reader(line: str, place: int) -> None:
    lines = ["b,2,no", "c,3,"]
    lines.insert(place * 2, line)
    piece = Piece("\n".join(lines).encode(), 2, 3)

    assert quick_rows(piece, ("job_id", "emitter_no", "cold_at_survey"), JOB_LOG["emitters"], TODAY) is None


def test_a_column_of_times_to_the_minute_or_to_the_second_goes_quickly_and_a_mixed_one_does_not() -> None:
    head, minute, second = ("job_id", "read_at"), "a,2025-03-04T09:15\n", "b,2025-03-04T09:15:30\n"

    def read(*lines: str) -> list[datetime] | None:
        found = quick_rows(Piece("".join(lines).encode(), 2, len(lines)), head, JOB_LOG["readings"], TODAY)
        return None if found is None else found["read_at"].to_list()

    assert read(minute, minute.replace("a", "b")) == [datetime(2025, 3, 4, 9, 15)] * 2
    assert read(second) == [datetime(2025, 3, 4, 9, 15, 30)]
    assert read(minute, second) is None
    assert read(second, minute) is None


TYPED = pl.DataFrame(
    {
        "firm_id": ["n", None],
        "job_id": ["a", "a"],
        "read_at": [datetime(2025, 3, 4, 9), datetime(2025, 3, 4, 10)],
        "flow_l_min": [20, 21],
        "ph": pl.Series([None, None], dtype=pl.Null),
        "more": ["@", " "],
    }
)


def test_parquet_with_whole_numbers_an_empty_column_and_one_outside_the_format_goes_quickly() -> None:
    found = quick_typed(TYPED, 7, JOB_LOG["readings"], TODAY)

    assert found is not None
    assert found["firm_id"].to_list() == ["n", "own"]
    assert (found["flow_l_min"].to_list(), found["ph"].to_list()) == ([20.0, 21.0], [None, None])
    assert (found[LINE].to_list(), "more" in found.columns) == ([7, 8], False)


@pytest.mark.parametrize(
    "column",
    [
        pl.Series("job_id", ["a", ""]),
        pl.Series("job_id", ["a", "b "]),
        pl.Series("job_id", ["a", "b@c"]),
        pl.Series("job_id", [1, 2]),
        pl.Series("read_at", ["2025-03-04T09:00"] * 2),
        pl.Series("read_at", [date(2025, 3, 4)] * 2),
        pl.Series("read_at", [datetime(2025, 3, 4, 9)] * 2).dt.replace_time_zone("UTC"),
        pl.Series("flow_l_min", [True, False]),
        pl.Series("focus_emitter_no", [1.0, 2.0]),
        pl.Series("flow_temp_c", [4.9, 50.0]),
    ],
)
def test_parquet_whose_columns_do_not_hold_their_kind_is_read_as_text(column: pl.Series) -> None:
    assert quick_typed(TYPED.with_columns(column), 2, JOB_LOG["readings"], TODAY) is None


def spans(*rows: tuple[str, str, int, int], cut: int = 99) -> list[tuple[object, ...]]:
    """Rows (firm, job, catch_no, minute after 10:00), read in pieces of `cut` rows."""
    frame = pl.DataFrame(rows, schema=["firm_id", "job_id", "catch_no", "m"], orient="row").with_columns(
        (pl.lit(datetime(2025, 3, 4, 10)) + pl.duration(minutes="m")).alias("caught_at"),
        pl.int_range(2, 2 + len(rows), dtype=pl.Int64).alias(LINE),
    )
    runs = [runs_of(CATCHES, frame.slice(at, cut)) for at in range(0, len(rows), cut)]
    found = spans_of(CATCHES, 4, runs[::-1])  # pieces may be done in any order
    assert set(found["source_no"]) <= {4}
    minutes = (pl.col("first_at", "last_at") - datetime(2025, 3, 4, 10)).dt.total_minutes()
    return found.with_columns(minutes).select("firm_id", "job_id", "rows", "first_at", "last_at", "is_tidy").rows()


@pytest.mark.parametrize("cut", [1, 2, 99])
def test_spans_of_two_firms_that_share_job_numbers_whatever_the_pieces(cut: int) -> None:
    """n/a in two runs with keys 1, 2, 5; s/a out of order; n/b has one key twice; s/b one row."""
    rows = [("n", "a", 1, 5), ("n", "a", 2, 3), ("s", "a", 2, 9), ("s", "a", 1, 1), ("n", "b", 3, 0), ("n", "b", 3, 4)]
    rows += [("n", "a", 5, 7), ("s", "b", 1, 2)]

    assert spans(*rows, cut=cut) == [
        ("n", "a", 3, 3, 7, True),
        ("s", "a", 2, 1, 9, False),
        ("n", "b", 2, 0, 4, False),
        ("s", "b", 1, 2, 2, True),
    ]


def test_a_second_run_that_begins_with_the_last_key_of_the_first_is_not_tidy() -> None:
    assert [row[-1] for row in spans(("n", "a", 1, 0), ("s", "a", 1, 0), ("n", "a", 1, 0))] == [False, True]
    assert spans_of(CATCHES, 1, []).height == 0


def test_rows_as_they_came_are_found_by_their_lines_in_whatever_piece(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = [f"a,{n},{'x' * n}" for n in range(1, 9)]
    lines[3] = "a,4"  # broken: line 5
    path = tmp_path / "catches.csv"
    path.write_text("job_id,catch_no,note\n" + "\n".join(lines) + "\n", encoding="utf-8")
    read = partial(read_text_table, path, "catches")
    source = TableSource(CATCHES, "catches.csv", ("job_id", "catch_no", "note"), read, path)

    for size in (1 << 20, 25):
        monkeypatch.setattr(originals, "pieces", lambda plain, size=size: pieces(plain, size))
        found = original_rows(source, [2, 5, 7, 9, 99])

        assert found.headings == source.headings
        assert {line: cells["catch_no"] for line, cells in found.cells.items()} == {2: "1", 7: "6", 9: "8"}
        assert found.broken == {5: "a,4"}
    assert original_rows(TableSource(CATCHES, "c", source.headings, read), [7]).cells[7]["note"] == "x" * 6


def test_results_come_in_the_order_asked_and_not_far_ahead_of_who_takes_them() -> None:
    begun: list[int] = []

    def task(number: int) -> int:
        begun.append(number)
        return number * number

    def asked() -> Iterator[partial[int]]:
        yield from (partial(task, number) for number in range(9))

    results = in_turn(asked())
    assert next(results) == 0
    assert max(begun) <= AHEAD + 1
    assert [*results] == [n * n for n in range(1, 9)]


def test_what_a_task_raises_is_raised_and_later_ones_are_not_begun() -> None:
    begun, hold = [], Event()

    def bad() -> None:
        raise ValueError("this one")

    def later(number: int) -> None:
        begun.append(number)
        hold.wait(0.05)

    with pytest.raises(ValueError, match="this one"):
        [*in_turn([bad, *(partial(later, number) for number in range(9))])]
    assert len(begun) <= AHEAD
