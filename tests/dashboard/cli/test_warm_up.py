"""Reading ahead beside the server: what it reads is there for the pages, what it cannot read is no matter."""

from __future__ import annotations

from pathlib import Path

import pytest
import streamlit as st

from dashboard import data
from dashboard.cli import warm_up
from pipeline.store.book import Book


@pytest.fixture(autouse=True)
def nothing_read() -> None:
    st.cache_data.clear()
    st.cache_resource.clear()


def test_what_pages_share_is_read_once_and_for_all(page_book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.BOOK_VARIABLE, str(page_book.path))
    warm_up.warm()
    build = data.shelf().build

    def unread(*asked: object) -> None:
        raise AssertionError(f"read again: {asked}")

    monkeypatch.setattr("pipeline.store.book.read_named", unread)
    jobs = data.job_list(build)
    assert data.curves_of(build, jobs).size.size > 0


@pytest.mark.parametrize("state", ["not_named", "empty", "broken"])
def test_a_book_that_cannot_be_read_is_left_to_the_page_that_needs_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, state: str
) -> None:
    (tmp_path / "file").write_text("no book")
    where = {"not_named": "", "empty": str(tmp_path / "none"), "broken": str(tmp_path / "file")}
    monkeypatch.setenv(data.BOOK_VARIABLE, where[state])

    warm_up.warm()

    assert data.shelf().state == state
