"""A book to load into."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.store.book import Book


@pytest.fixture
def book(tmp_path: Path) -> Book:
    return Book(tmp_path / "book")
