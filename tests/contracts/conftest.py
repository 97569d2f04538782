"""A trained book for every surface, and the same book with what would make surfaces drift apart."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pipeline.store.book import Book
    from tests.contracts.surfaces import Surfaces


@pytest.fixture
def open_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[Book], Surfaces]:
    """Opens a book on every surface."""
    from tests.contracts.surfaces import Surfaces

    def opened(book: Book) -> Surfaces:
        monkeypatch.setenv("SLUDGEBOOK_BOOK", str(book.path))
        return Surfaces(book, tmp_path, monkeypatch)

    return opened


@pytest.fixture(scope="module")
def told_book(trained_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The trained book as if it told what a kilogram does to callbacks, which takes more jobs than it has."""
    from models.practice.results.curve_results import RiskPerKg
    from models.quote.model.callback_inputs import load_returns, store_returns
    from pipeline.store.book import Book

    folder = tmp_path_factory.mktemp("told") / "book"
    shutil.copytree(trained_book.path, folder)
    book = Book(folder)
    models = book.models_dir(book.current())
    found = load_returns(models)
    assert found is not None
    store_returns(replace(found, per_kg=RiskPerKg(-0.04, -0.06, -0.02, 365, 2000, 1.5, 40.0)), models)
    return book


@pytest.fixture(scope="module")
def older_book(told_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The same book, its models learnt from an earlier build."""
    from pipeline.store.book import Book

    folder = tmp_path_factory.mktemp("older") / "book"
    shutil.copytree(told_book.path, folder)
    book = Book(folder)
    models = book.models_dir(book.current())
    models.rename(models.with_name("an-earlier-build"))
    return book
