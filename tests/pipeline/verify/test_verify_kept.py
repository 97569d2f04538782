"""Verify, what cannot be made again: each loss is a finding of its own, and what was never saved is none."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest

from pipeline.intake.load import load
from pipeline.intake.make_again import make_again
from pipeline.quotes.kept_quotes import keep_quote, kept_quotes, say_what_became
from pipeline.store.book import Book
from pipeline.store.journal import append, journal_path
from pipeline.verify.verify_book import verify
from tests.pipeline.conftest import HAND_WRITTEN

ATTACHED = b"read_at,flow_l_min\n2031-03-04T10:00,20\n"


@pytest.fixture(scope="module")
def model_book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """Two journals of three entries, one with a file attached, and three quotes."""
    book = Book(tmp_path_factory.mktemp("kept") / "book")
    load([HAND_WRITTEN], book)
    facts = {"stored": "0-log.csv", "sha256": sha256(ATTACHED).hexdigest(), "name": "log.csv"}
    for job in ("a", "own/b"):
        append(book, job, {"id": "1", "kind": "start", "of": {}})
        append(book, job, {"id": "2", "kind": "files", "of": facts if job == "a" else {}})
        append(book, job, {"id": "3", "kind": "undo", "of": {}})
    folder = journal_path(book, "a").with_suffix(".files")
    folder.mkdir()
    (folder / "0-log.csv").write_bytes(ATTACHED)
    for number in (1, 2, 3):
        answer = {"firm_id": "own", "job_id": f"J{number}", "price": {"price": 840.0, "currency": "GBP"}}
        keep_quote(book, answer, {"jobs": []}, model="m", valid_until=date(2031, 1, 1))
    say_what_became(book, "Q00002", "won")
    return book


@pytest.fixture
def kept(tmp_path: Path, model_book: Book) -> Book:
    shutil.copytree(model_book.path, tmp_path / "book")
    return Book(tmp_path / "book")


def shorter(name: str, keep: Callable[[bytes], bytes]) -> Callable[[Book], None]:
    def harm(book: Book) -> None:
        path = book.path / name
        path.write_bytes(keep(path.read_bytes()))

    return harm


def gone(name: str) -> Callable[[Book], None]:
    return lambda book: (book.path / name).unlink()


def written(name: str, text: str) -> Callable[[Book], None]:
    def harm(book: Book) -> None:
        (book.path / name).write_text(text, encoding="utf-8")

    return harm


def first_lines(count: int) -> Callable[[bytes], bytes]:
    return lambda data: b"".join(data.splitlines(keepends=True)[:count])


@pytest.mark.parametrize(
    ("harm", "expected"),
    [
        (shorter("quotes/Q00001.jsonl", lambda data: data[: len(data) // 2]), ["quote_damaged"]),
        (shorter("quotes/Q00001.jsonl", lambda data: b""), ["quote_damaged"]),
        (shorter("quotes/Q00002.jsonl", first_lines(1)), ["quote_damaged"]),
        (gone("quotes/Q00001.jsonl"), ["quote_missing"]),
        (gone("quotes/Q00003.jsonl"), ["quote_missing"]),
        (shorter("on_site/a.jsonl", lambda data: data[:-1]), ["journal_cut"]),
        (shorter("on_site/a.jsonl", lambda data: data[:-20]), ["journal_cut"]),
        (shorter("on_site/a.jsonl", first_lines(2)), ["journal_cut"]),
        (shorter("on_site/a.jsonl", lambda data: data.replace(b'"1"', b'"7"')), ["journal_cut"]),
        (gone("on_site/own%2Fb.jsonl"), ["journal_missing"]),
        (gone("on_site/a.files/0-log.csv"), ["attached_missing"]),
        (written("on_site/a.files/0-log.csv", "other"), ["attached_changed"]),
        (gone("id.key"), ["id_key_lost"]),
        (written("id.key", ""), ["id_key_lost"]),
        (gone("firm.toml"), ["settings_missing"]),
        (written("firm.toml", "mark_file = 'gone.png'\n"), ["settings_file_missing"]),
        (written("firm.toml", "colour = 1\n"), ["cannot_be_derived"]),
        (written("mapping.toml", "version = "), ["mapping_unusable"]),
    ],
)
def test_each_loss_is_named_once(harm: Callable[[Book], None], expected: list[str], kept: Book) -> None:
    harm(kept)
    report = verify(kept)
    assert [finding.code for finding in report.findings] == expected
    assert not any("delete" in finding.sentence for finding in report.findings)
    assert not any("never said" in note.sentence for note in report.notes)


def test_a_whole_book_is_clean_also_where_an_entry_was_torn_by_a_process_that_was_killed(kept: Book) -> None:
    with journal_path(kept, "a").open("ab") as file:
        file.write(b'{"saved_at": "2031')
    report = verify(kept)
    assert (report.clean, [note.code for note in report.notes]) == (True, ["torn_entry"])
    assert "it was never said to be saved" in report.notes[0].sentence

    append(kept, "a", {"id": "4", "kind": "undo", "of": {}})
    assert verify(kept).clean


def test_journals_and_quotes_of_a_version_without_tallies_are_read_as_before(kept: Book, model_book: Book) -> None:
    for tally in [*kept.path.rglob("*.saved")]:
        tally.unlink()

    assert verify(kept).clean
    assert kept_quotes(kept) == kept_quotes(model_book)
    append(kept, "a", {"id": "4", "kind": "undo", "of": {}})
    shorter("on_site/a.jsonl", first_lines(3))(kept)
    assert [finding.code for finding in verify(kept).findings] == ["journal_cut"]


def test_a_quote_of_such_a_version_cut_in_half_is_noted(kept: Book) -> None:
    (kept.path / "quotes" / "Q00001.saved").unlink()
    shorter("quotes/Q00001.jsonl", lambda data: data[: len(data) // 2])(kept)
    report = verify(kept)
    assert (report.clean, [note.code for note in report.notes]) == (True, ["quote_torn"])
    assert "or was cut since" in report.notes[0].sentence


def test_a_loss_stays_known_when_more_is_saved_afterwards(kept: Book) -> None:
    shorter("on_site/a.jsonl", first_lines(2))(kept)
    append(kept, "a", {"id": "4", "kind": "undo", "of": {}})
    append(kept, "a", {"id": "5", "kind": "undo", "of": {}})
    assert [finding.code for finding in verify(kept).findings] == ["journal_cut"]


def test_the_number_of_a_lost_quote_is_not_given_again(kept: Book) -> None:
    gone("quotes/Q00003.jsonl")(kept)
    answer = {"firm_id": "own", "job_id": "J4", "price": {"price": 840.0, "currency": "GBP"}}
    assert keep_quote(kept, answer, {}, model="m", valid_until=date(2031, 1, 1)) == "Q00004"


def test_a_lost_pointer_is_noted_and_the_book_read_without_it(kept: Book, model_book: Book) -> None:
    for text in (None, "", "x" * 5_000, "../../etc", "\x00\x01"):
        (kept.path / "current").unlink(missing_ok=True)
        if text is not None:
            (kept.path / "current").write_text(text, encoding="utf-8")
        assert kept.current().name == model_book.current().name
    report = verify(kept)
    assert (report.clean, [note.code for note in report.notes]) == (True, ["current_lost"])


def test_a_lost_key_is_made_anew_by_making_everything_again(kept: Book) -> None:
    written("id.key", "short")(kept)
    make_again(kept)
    assert verify(kept).clean
    assert (kept.path / "id.key.broken").read_text(encoding="utf-8") == "short"
    assert (kept.path / "id.key").stat().st_size == 32
