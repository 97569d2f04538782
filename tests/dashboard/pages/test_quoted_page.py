"""The page Quoted and done: its answer, its empty states, and a quote kept on Price a job."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest

from dashboard.figures.quoted_and_done import margin_alt, margin_figure
from models.quote.pricing.track_record import GroupRecord, track_record
from pipeline.quotes.quoted_and_done_rows import quoted_and_done
from pipeline.store.book import Book

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]


def group(name: str, kept: float, *, under: bool = False) -> GroupRecord:
    return GroupRecord("size", name, 12, 20.0, 5.0, 35.0, kept, kept - 0.1, kept + 0.1, 0.2, under)


def test_the_answer_is_the_share_of_jobs_that_cost_more_than_their_price(
    open_page: Open, page_book: Book, words: Callable[[AppTest], str]
) -> None:
    record = track_record(quoted_and_done(page_book, page_book.current()), page_book.firm())

    shown = words(open_page("quoted_and_done", page_book.path))

    assert f"{100 * record.loss_share:.0f} % of jobs cost more than their price" in shown
    assert "No quote is kept yet" in shown


def test_without_quoted_prices_it_says_what_to_do(
    open_page: Open, tmp_path: Path, words: Callable[[AppTest], str]
) -> None:
    assert "The book is empty" in words(open_page("quoted_and_done", tmp_path / "book"))


def test_an_underpriced_group_differs_in_mark_as_well_as_hue() -> None:
    groups = [group("up to 8 emitters", 0.25), group("9 to 14 emitters", 0.02, under=True)]

    traces = [t.to_plotly_json() for t in margin_figure(groups, 0.2).data if t.mode == "markers"]

    assert [t["marker"]["symbol"] for t in traces] == ["circle", "diamond"]
    assert "9 to 14 emitters: 2 % (-8 to 12)" in margin_alt(groups)


@pytest.fixture
def kept_call(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Book:
    book = Book(tmp_path / "book")
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(book.path))
    return book


def test_a_quote_kept_from_the_page_stands_under_its_job_name(kept_call: Book, quote: Any) -> None:
    from dashboard import data

    name = data.keep_quote("", quote, "A-17", [{"job_id": "this-job", "system_type": "sealed"}], [], [])
    data.say_what_became(name, "won")

    kept = data.kept_quotes()
    assert kept[["quote_id", "job_id", "status"]].to_numpy().tolist() == [["Q00001", "A-17", "won"]]


def test_a_quote_is_linked_to_the_job_it_was_done_as(kept_call: Book, page_book: Book, quote: Any) -> None:
    from dashboard import data
    from pipeline.contract.findings import BadInput

    shutil.copytree(page_book.path, kept_call.path)
    done = quoted_and_done(page_book, page_book.current()).iloc[0]
    name = data.keep_quote("", quote, "A-17", [{"job_id": "this-job", "system_type": "sealed"}], [], [])

    data.say_what_became(name, "won", str(done["job_id"]))

    assert data.kept_quotes().iloc[0][["firm_id", "job_id"]].tolist() == [done["firm_id"], done["job_id"]]
    told = quoted_and_done(kept_call, kept_call.current()).iloc[0]
    assert told["quoted_price"] == quote.price.price
    with pytest.raises(BadInput):
        data.say_what_became(name, "won", "no such job")


def test_kept_quotes_and_jobs_beside_their_cost_are_exported(
    kept_call: Book, page_book: Book, quote: Any, tmp_path: Path
) -> None:
    from dashboard import data
    from dashboard.cli import commands

    shutil.copytree(page_book.path, kept_call.path)
    data.keep_quote("", quote, "A-17", [{"job_id": "this-job", "system_type": "sealed"}], [], [])

    for table in ("quotes", "quoted_and_done"):
        commands.export(table, tmp_path / f"{table}.csv", kept_call.path, True)

    kept, done = (pd.read_csv(tmp_path / f"{name}.csv") for name in ("quotes", "quoted_and_done"))
    assert kept[["quote_id", "job_id", "status"]].to_numpy().tolist() == [["Q00001", "A-17", "offered"]]
    record = track_record(quoted_and_done(page_book, page_book.current()), page_book.firm())
    assert done["actual_cost"].sum() == pytest.approx(record.jobs["actual_cost"].sum())
    assert ((done["quoted_price"] - done["actual_cost"]) - done["kept"]).abs().max() < 1e-6
