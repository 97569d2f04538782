"""The one door: any error becomes one sentence and a status, with its cause in a log of the book that turns."""

from __future__ import annotations

import errno
import json
import sys
from pathlib import Path

import pytest

from dashboard import fault_log
from dashboard.cli import door
from dashboard.cli.main import main
from pipeline.contract.findings import BadInput
from pipeline.store.book import Book


class PanicException(BaseException):
    """What a compiled library raises that breaks down."""


def fail_with(error: BaseException, monkeypatch: pytest.MonkeyPatch) -> None:
    def verify(*_: object) -> int:
        raise error

    monkeypatch.setattr("dashboard.cli.book.verify", verify)


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Book:
    book = Book(tmp_path / "book")
    book.create()
    monkeypatch.setattr(sys, "argv", ["sludgebook", "verify", "--book", str(book.path)])
    return book


@pytest.mark.parametrize(
    ("error", "told", "status", "is_logged"),
    [
        (BadInput("No such\nthing."), "No such thing.", 2, False),
        (KeyboardInterrupt(), "Stopped. Nothing that was reported as received or saved is lost.", 130, False),
        (OSError(errno.ENOSPC, "No space left on device", "a.csv"), "a.csv cannot be used: No space left", 2, True),
        (OSError("odd"), "The program failed on this (OSError), which it should not.", 2, True),
        (MemoryError(), "There is not enough memory for this; close other programs", 2, True),
        (RecursionError("deep"), "The program failed on this (RecursionError), which it should not.", 2, True),
        (PanicException("slice"), "The program failed on this (PanicException), which it should not.", 2, True),
    ],
)
def test_each_error_is_one_sentence_with_its_cause_in_the_log(
    error: BaseException,
    told: str,
    status: int,
    is_logged: bool,
    book: Book,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    fail_with(error, monkeypatch)
    with pytest.raises(SystemExit) as ended:
        main()
    said, log = capsys.readouterr().err, book.path / fault_log.LOG

    assert (ended.value.code, said.count("\n")) == (status, 1)
    assert said.startswith(f"sludgebook: {told}")
    assert (f"The cause is in {log}." in said, log.is_file()) == (is_logged, is_logged)
    if is_logged:
        text = log.read_text(encoding="utf-8")
        assert f"sludgebook verify --book {book.path}" in text
        assert "Traceback" in text
        assert type(error).__name__ in text


def test_the_log_turns_before_it_fills_the_disk(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fault_log, "MAX_BYTES", 3_000)
    door.remember(book.path)
    for number in range(40):
        door.sentence_and_status(ValueError(f"number {number} {'x' * 200}"))
    logs = sorted(path.name for path in book.path.glob("sludgebook.log*"))

    assert logs == ["sludgebook.log", "sludgebook.log.1", "sludgebook.log.2", "sludgebook.log.3"]
    assert all((book.path / name).stat().st_size <= 3_000 for name in logs)
    assert "number 39" in (book.path / "sludgebook.log").read_text(encoding="utf-8")


def test_without_a_book_the_sentence_names_the_cause_itself() -> None:
    door.forget()
    sentence, status = door.sentence_and_status(ValueError("odd\nand long"))
    assert status == 2
    assert sentence.endswith("The cause: ValueError odd.")


def test_control_characters_that_were_typed_do_not_reach_the_log(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["sludgebook", "history", "\x1b[2J\n\u009b"])
    door.remember(book.path)
    door.sentence_and_status(ValueError("odd"))
    assert "history \\x1b[2J\\n\\x9b" in (book.path / fault_log.LOG).read_text(encoding="utf-8")


def test_a_book_is_backed_up_restored_and_made_again_at_the_command_line(
    small_book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out, new = tmp_path / "out.zip", tmp_path / "new book"
    told = []
    for typed in (
        ["backup", str(small_book.path), str(out)],
        ["restore", str(out), str(new)],
        ["rebuild", "--book", str(new)],
    ):
        monkeypatch.setattr(sys, "argv", ["sludgebook", *typed])
        with pytest.raises(SystemExit) as ended:
            main()
        assert not ended.value.code
        told.append(json.loads(capsys.readouterr().out))

    assert told[0]["findings"] == []
    assert told[0]["files"] == told[1]["files"] > 10
    assert told[2] == {"build": small_book.current().stem} == {"build": Book(new).current().stem}
