"""What nobody foresaw is written down in the book with what was open, and told in a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard import fault_log, faults

OPENED = {"page": "http://127.0.0.1:8501/job-book", "book_job": "J\x1b[2J-7"}


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(tmp_path / "book"))
    return tmp_path / "book"


def raised(words: str) -> BaseException:
    try:
        raise IndexError(words)
    except IndexError as fault:
        return fault


def test_a_fault_is_written_down_with_what_was_open_and_where_it_happened(book: Path) -> None:
    path = faults.write_down(raised("no such row"), OPENED)

    assert path == book / "sludgebook.log"
    written = path.read_text(encoding="utf-8")
    assert "IndexError: no such row" in written
    assert "in raised" in written
    assert r"book_job J\x1b[2J-7" in written
    assert "\x1b" not in written


def test_the_log_begins_anew_when_it_is_full_and_keeps_three_before_it(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fault_log, "MAX_BYTES", 2_000)
    for number in range(40):
        faults.write_down(raised(f"fault {number}"), OPENED)

    found = sorted(path.name for path in book.iterdir())
    assert found == ["sludgebook.log", "sludgebook.log.1", "sludgebook.log.2", "sludgebook.log.3"]
    assert all((book / name).stat().st_size <= 2_000 for name in found)
    assert "fault 39" in (book / "sludgebook.log").read_text(encoding="utf-8")


def test_a_book_that_cannot_be_written_to_is_no_second_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(tmp_path / "file"))

    assert faults.write_down(raised("x"), OPENED) is None


def test_the_page_says_in_a_sentence_what_to_do_and_where_the_log_is(book: Path) -> None:
    from streamlit.testing.v1 import AppTest

    app = AppTest.from_string(
        "from dashboard import faults\ntry:\n    [][0]\nexcept IndexError as fault:\n    faults.tell(fault)"
    ).run(timeout=60)

    assert not app.exception
    assert "What was said to be saved is saved. Load the page again" in app.error[0].value
    assert "sludgebook.log" in app.error[0].value
    assert "IndexError" in (book / "sludgebook.log").read_text(encoding="utf-8")
