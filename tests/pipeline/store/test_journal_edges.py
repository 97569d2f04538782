"""The journal at its edges: names on disk, the second it was saved, the largest entry, what is sent twice."""

from __future__ import annotations

import json
from datetime import datetime
from hashlib import sha256

import pytest

from pipeline.contract.findings import BadInput, BookError
from pipeline.store.book import Book
from pipeline.store.journal import MAX_ENTRY_BYTES, append, append_to, journal_path, journals, read_journal, shown_name


def test_names_on_disk_stay_as_they_were_so_that_earlier_journals_are_found(book: Book) -> None:
    """Up to 180 signs stand as they are; a longer one is cut there and told apart by 16 signs of its digest."""
    names = {
        "own/J 1-a_b": "own%2FJ 1-a_b.jsonl",
        "é": "%C3%A9.jsonl",
        "x" * 180: "x" * 180 + ".jsonl",
        "x" * 181: "x" * 180 + "~" + sha256(b"x" * 181).hexdigest()[:16] + ".jsonl",
    }

    assert {job: journal_path(book, job).name for job in names} == names
    assert journal_path(book, "a").parent == book.path / "on_site"
    assert shown_name(journal_path(book, "own/é")) == "own/é"


@pytest.mark.parametrize("job", ["", "  "])
def test_a_job_without_a_name_has_no_journal(job: str, book: Book) -> None:
    with pytest.raises(BadInput, match="Name the job"):
        journal_path(book, job)


def test_the_time_saved_is_whole_seconds_and_now_where_none_is_given(book: Book) -> None:
    told = append(book, "a", {"x": 1}, datetime(2031, 3, 4, 9, 15, 7, 999_999))
    before = datetime.now().replace(microsecond=0)
    now = append(book, "a", {"x": 2})

    assert told.saved_at == datetime(2031, 3, 4, 9, 15, 7)
    assert before <= now.saved_at <= datetime.now()
    assert now.saved_at.microsecond == 0
    assert read_journal(book, "a").entries == (told, now)


def test_an_entry_of_just_the_most_bytes_is_saved_and_one_more_is_not(book: Book) -> None:
    at = datetime(2031, 3, 4, 9, 15)
    empty = len(json.dumps({"saved_at": at.isoformat(), "values": {"x": ""}}))
    room = MAX_ENTRY_BYTES - empty

    append(book, "a", {"x": "y" * room}, at)
    with pytest.raises(BadInput, match=r"The entry has 64,001 bytes; one entry may have at most 64,000\."):
        append(book, "a", {"x": "y" * (room + 1)}, at)

    assert len(read_journal(book, "a").entries) == 1


def test_what_is_sent_twice_is_stored_once_and_entries_without_an_id_each_time(book: Book) -> None:
    first = append(book, "a", {"id": "1", "x": 1})
    append(book, "a", {"id": "2", "x": 2})
    again = append(book, "a", {"id": "1", "x": 99})
    other = append(book, "b", {"id": "1", "x": 3})
    bare = [append(book, "a", {"x": 4}).line for _ in range(2)]

    assert (again, other.values["x"]) == (first, 3)
    assert bare == [3, 4]
    assert [entry.values["x"] for entry in read_journal(book, "a").entries] == [1, 2, 4, 4]


def test_a_journal_is_begun_once_and_beginning_it_again_with_the_same_entry_is_no_fault(book: Book) -> None:
    begun = append(book, "own/a", {"id": "1"}, is_first=True)

    assert append(book, "own/a", {"id": "1"}, is_first=True) == begun
    for second in ({"id": "2"}, {"x": 1}):
        with pytest.raises(BadInput, match="A job called own/a has been started already"):
            append(book, "own/a", second, is_first=True)
    assert append(book, "own/b", {"x": 1}, is_first=True).line == 1


def test_torn_lines_keep_their_number_and_at_most_500_bytes(book: Book) -> None:
    append(book, "a", {"x": 1})
    with journal_path(book, "a").open("ab") as file:
        file.write(b"t" * 501 + b"\n\n[1]\n" + b'{"saved_at": "2031-03-04T09:15:00", "values": [1]}\n' + b'{"torn')

    entry = append(book, "a", {"x": 2})

    found = read_journal(book, "a")
    assert [(torn.line, len(torn.text)) for torn in found.torn] == [(2, 500), (4, 3), (5, 50), (6, 6)]
    assert ([each.line for each in found.entries], entry.line) == ([1, 7], 7)


def test_a_journal_in_a_folder_that_is_not_there_yet_and_the_list_of_all(book: Book) -> None:
    append(book, "b", {"x": 1})
    append(book, "a", {"x": 1})
    append_to(book.path / "on_site" / "deep" / "er" / "n.jsonl", "n", {"x": 1})

    assert [path.name for path in journals(book)] == ["a.jsonl", "b.jsonl"]


def test_names_that_differ_in_capitals_alone_are_two_files_and_each_job_finds_its_own_again(book: Book) -> None:
    """On Windows and macOS `A1.jsonl` and `a1.jsonl` would be one file: the later one spells its capitals out."""
    append(book, "a1", {"n": 1})
    append(book, "A1", {"n": 2})
    append(book, "a1", {"n": 3})
    append(book, "A1", {"n": 4})

    assert journal_path(book, "a1").name == "a1.jsonl"
    assert journal_path(book, "A1").name.casefold() != "a1.jsonl"
    assert [entry.values["n"] for entry in read_journal(book, "a1").entries] == [1, 3]
    assert [entry.values["n"] for entry in read_journal(book, "A1").entries] == [2, 4]


def test_a_name_written_before_this_rule_keeps_its_file(book: Book) -> None:
    folder = book.path / "on_site"
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("A1", "a1"):
        (folder / f"{name}.jsonl").write_bytes(b"")

    assert [journal_path(book, name).name for name in ("A1", "a1")] == ["A1.jsonl", "a1.jsonl"]


def test_a_journal_that_cannot_be_read_is_told_with_its_reason(book: Book) -> None:
    journal_path(book, "b1").mkdir(parents=True)

    with pytest.raises(BookError, match=r"b1\.jsonl cannot be read: Is a directory\."):
        read_journal(book, "b1")
