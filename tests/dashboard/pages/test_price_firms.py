"""Whose job it is: asked by "Price a job" in a book of several firms only."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipeline.store.book import Book, read_table
from tests.dashboard.other_maker import write_other_jobs
from tests.dashboard.pages.test_price_page import filled_in

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]


@pytest.fixture(scope="module")
def pool(page_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The simulated firm's book with the jobs of a firm `own` besides, learnt from."""
    from models.quote.train import train_and_store
    from pipeline.intake.load import load

    folder = tmp_path_factory.mktemp("pool")
    shutil.copytree(page_book.path, folder / "book", ignore=shutil.ignore_patterns("models"))
    write_other_jobs(folder / "logs", 50)
    book = Book(folder / "book")
    load([folder / "logs"], book)
    build = book.current()
    train_and_store(read_table(build, "ftr_quote"), read_table(build, "ftr_outcome"), book.models_dir(build))
    return book


def simulated(book: Book) -> str:
    """The simulated firm's id."""
    firms = set(read_table(book.current(), "jobs")["firm_id"])
    (name,) = firms - {"own"}
    return str(name)


def test_one_firm_is_not_asked_for(open_page: Open, page_book: Book) -> None:
    app = open_page("price_a_job", page_book.path)

    assert "price_firm" not in {box.key for box in app.selectbox}


def test_the_firm_that_is_chosen_answers(open_page: Open, pool: Book, words: Words) -> None:
    app = open_page("price_a_job", pool.path)
    box = app.selectbox(key="price_firm")
    assert box.options == ["own", simulated(pool)]
    assert box.value is None

    box.set_value(simulated(pool))
    app = filled_in(app)

    assert not app.exception
    assert app.session_state["price_quote"].firm_id == simulated(pool)
    assert simulated(pool) in app.session_state["price_quote"].basis.borrowed


def test_where_none_is_chosen_it_is_as_in_a_log_without_a_firm(open_page: Open, pool: Book) -> None:
    """A log that names no firm is of `own`, as in every file."""
    app = filled_in(open_page("price_a_job", pool.path))

    assert app.session_state["price_quote"].firm_id == "own"


def test_the_settings_fill_it_in_where_the_book_holds_that_firm(open_page: Open, pool: Book, tmp_path: Path) -> None:
    shutil.copytree(pool.path, tmp_path / "book")
    settings = tmp_path / "book" / "firm.toml"
    kept = settings.read_text(encoding="utf-8") if settings.exists() else ""
    text = "\n".join(line for line in kept.splitlines() if not line.startswith("firm_id"))

    found = []
    for name in (simulated(pool), "elsewhere"):
        settings.write_text(f'{text}\nfirm_id = "{name}"\n', encoding="utf-8")
        found.append(open_page("price_a_job", tmp_path / "book").selectbox(key="price_firm").value)

    assert found == [simulated(pool), None]
