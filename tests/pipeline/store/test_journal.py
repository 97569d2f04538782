"""The on-site journal: what was said to be saved is there, torn lines are reported, names never leave the folder."""

from __future__ import annotations

import errno
import os
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contract.findings import BadInput, BookError
from pipeline.store.book import Book
from pipeline.store.journal import MAX_ENTRY_BYTES, append, journal_path, journals, read_journal, shown_name

PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text()
ENTRIES = st.lists(st.dictionaries(st.text(max_size=8), PLAIN, max_size=3), min_size=1, max_size=4)


def values(book: Book, job: str) -> list[dict[str, object]]:
    return [dict(entry.values) for entry in read_journal(book, job).entries]


def test_entries_come_back_in_order_with_the_time_they_were_saved(book: Book) -> None:
    at = datetime(2025, 3, 4, 9, 15)
    first = append(book, "own/a", {"table": "catches", "mass_g": 420.0}, at)
    second = append(book, "own/a", {"table": "catches", "note": "grey\nsludge"}, at)

    assert (first.line, second.line) == (1, 2)
    assert read_journal(book, "own/a").entries == (first, second)
    assert read_journal(book, "own/b").entries == ()


@settings(max_examples=40, deadline=None)
@given(before=ENTRIES, after=ENTRIES, cut=st.floats(0, 1))
def test_a_line_torn_anywhere_costs_no_whole_entry(
    before: list[dict[str, object]], after: list[dict[str, object]], cut: float
) -> None:
    with TemporaryDirectory() as folder:
        book = Book(Path(folder) / "book")
        ends = [0]
        for entry in before:
            append(book, "a", entry)
            ends.append(journal_path(book, "a").stat().st_size)
        keep = round(ends[-2] + cut * (ends[-1] - ends[-2]))
        os.truncate(journal_path(book, "a"), keep)
        for entry in after:
            append(book, "a", entry)

        whole = before if keep >= ends[-1] - 1 else before[:-1]
        assert values(book, "a") == [*whole, *after]
        assert len(read_journal(book, "a").torn) == (ends[-2] < keep < ends[-1] - 1)


@settings(max_examples=60, deadline=None)
@given(job=st.text(min_size=1, max_size=400))
def test_whatever_a_job_is_called_its_journal_lies_in_the_folder(job: str) -> None:
    with TemporaryDirectory() as folder:
        book = Book(Path(folder) / "book")
        try:
            append(book, job, {"x": 1})
        except BadInput:
            return
        assert values(book, job) == [{"x": 1}]
        assert "~" in journal_path(book, job).name or shown_name(journal_path(book, job)) == job
        assert [path.parent for path in journals(book)] == [book.path / "on_site"]
        assert [path.name for path in Path(folder).iterdir()] == ["book"]


@pytest.mark.parametrize(("one", "other"), [("a/b", "a%2Fb"), ("..", "."), ("x" * 300, "x" * 301), ("é", "e")])
def test_two_jobs_never_share_a_journal(one: str, other: str, book: Book) -> None:
    assert journal_path(book, one) != journal_path(book, other)


def test_an_entry_that_is_no_plain_data_is_refused(book: Book) -> None:
    for bad in ({"x": object()}, {"x": float("nan")}, {"x": "y" * MAX_ENTRY_BYTES}):
        with pytest.raises(BadInput):
            append(book, "a", bad)
    assert values(book, "a") == []


def test_a_full_disk_is_told_and_nothing_of_the_entry_stays(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    append(book, "a", {"x": 1})
    before = journal_path(book, "a").read_bytes()

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr("pipeline.store.journal.os.fsync", full)
        with pytest.raises(BookError, match="could not be saved: No space left on device"):
            append(book, "a", {"x": 2})
    assert journal_path(book, "a").read_bytes() == before
    assert append(book, "a", {"x": 3}).line == 2


def test_damage_in_the_middle_is_reported_with_its_line(book: Book) -> None:
    for number in range(3):
        append(book, "a", {"x": number})
    path = journal_path(book, "a")
    lines = path.read_bytes().split(b"\n")
    lines[1] = lines[1][:-5]
    path.write_bytes(b"\n".join(lines))

    assert values(book, "a") == [{"x": 0}, {"x": 2}]
    assert [torn.line for torn in read_journal(book, "a").torn] == [2]
