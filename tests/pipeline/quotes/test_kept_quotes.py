"""Quotes kept in the book: on disk before they are said to be kept, in order, with what became of them."""

from __future__ import annotations

import threading
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from pipeline.contract.findings import BadInput
from pipeline.quotes.kept_quotes import damaged_quotes, keep_quote, kept_quotes, say_what_became
from pipeline.quotes.quoted_and_done_rows import quoted_and_done, quotes_frame
from pipeline.store.book import Book
from pipeline.verify.verify_book import verify


def answer(job: str = "J1", price: float = 500.0, firm: str = "own") -> dict[str, Any]:
    span = {"p10": 1.0, "p50": 2.0, "p90": 4.0}
    minutes = {"p10": 200.0, "p50": 300.0, "p90": 420.0}
    money = {
        "price": price,
        "price_with_tax": 1.2 * price,
        "currency": "GBP",
        "chance_of_loss": 0.1,
        "cost": {"p50": 0.8 * price},
    }
    return {
        "firm_id": firm,
        "job_id": job,
        "magnetite_kg": span,
        "site_minutes": minutes,
        "second_day": 0.05,
        "price": money,
    }


def keep(book: Book, job: str = "J1", **more: Any) -> str:
    asked = {"jobs": [{"job_id": job, "visit_date": date(2031, 3, 4)}]}
    return keep_quote(
        book, answer(job, **more), asked, model="b1", valid_until=date(2031, 4, 3), at=datetime(2031, 3, 4, 9, 0)
    )


def test_a_kept_quote_is_read_back_as_it_was(tmp_path: Path) -> None:
    book = Book(tmp_path / "book")

    name = keep(book)

    (kept,) = kept_quotes(book)
    assert (name, kept.quote_id, kept.status, kept.job) == ("Q00001", "Q00001", "offered", ("own", "J1"))
    assert kept.price == 500.0
    assert kept.asked["jobs"] == [{"job_id": "J1", "visit_date": "2031-03-04"}]
    assert kept.valid_until == date(2031, 4, 3)


def test_what_became_of_it_is_added_never_replaced(tmp_path: Path) -> None:
    book = Book(tmp_path / "book")
    name = keep(book)
    before = (book.path / "quotes" / f"{name}.jsonl").read_bytes()

    say_what_became(book, name, "won")
    kept = say_what_became(book, name, "lost", job=("own", "J9"))

    assert (kept.status, kept.job) == ("lost", ("own", "J9"))
    assert (book.path / "quotes" / f"{name}.jsonl").read_bytes().startswith(before)


@pytest.mark.parametrize(("name", "word"), [("Q00001", "maybe"), ("Q00002", "won"), ("../Q00001", "won")])
def test_an_unknown_quote_or_word_is_refused_in_a_sentence(tmp_path: Path, name: str, word: str) -> None:
    book = Book(tmp_path / "book")
    keep(book)

    with pytest.raises(BadInput):
        say_what_became(book, name, word)


def test_a_quote_torn_while_it_was_written_was_never_kept(tmp_path: Path) -> None:
    book = Book(tmp_path / "book")
    keep(book)
    whole = (book.path / "quotes" / "Q00001.jsonl").read_bytes()
    for cut in range(0, len(whole) - 2, 37):
        (book.path / "quotes" / "Q00002.jsonl").write_bytes(whole[:cut])

        assert [kept.quote_id for kept in kept_quotes(book)] == ["Q00001"]
        assert damaged_quotes(book) == ()
    assert keep(book, "J3") == "Q00003"


def test_a_file_that_is_no_quote_is_named(tmp_path: Path) -> None:
    book = Book(tmp_path / "book")
    keep(book)
    path = book.path / "quotes" / "Q00001.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"answer"', b'"anzwer"'))

    assert damaged_quotes(book) == ("Q00001.jsonl",)
    assert [finding.code for finding in verify(book).findings] == ["quote_damaged"]


def test_two_who_keep_at_once_get_two_numbers(tmp_path: Path) -> None:
    book = Book(tmp_path / "book")
    book.create()
    names: list[str] = []
    threads = [threading.Thread(target=lambda n=n: names.append(keep(book, f"J{n}"))) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(names) == [f"Q{n:05d}" for n in range(1, 9)]
    assert {kept.job[1] for kept in kept_quotes(book)} == {f"J{n}" for n in range(8)}


def test_the_newest_quote_that_stands_is_held_against_the_job(small_book: Book, tmp_path: Path) -> None:
    build = small_book.current()
    done = quoted_and_done(small_book, build).set_index("job_id")
    job = done.index[0]
    own = Book(tmp_path / "book")
    firm = str(done.loc[job, "firm_id"])
    keep(own, job, price=700.0, firm=firm)
    keep(own, job, price=800.0, firm=firm)
    say_what_became(own, keep(own, job, price=900.0, firm=firm), "lost")

    told = quoted_and_done(own, build).set_index("job_id")

    assert told.loc[job, "quoted_price"] == 800.0
    assert (told.loc[job, "low_minutes"], told.loc[job, "high_kg"]) == (200.0, 4.0)
    assert told.drop(index=job)["quoted_price"].equals(done.drop(index=job)["quoted_price"])
    assert len(quotes_frame(own)) == 3


def keep_without(book: Book, *path: str) -> None:
    """Keep a quote that lacks something, as one of an earlier version may."""
    whole = answer("J2")
    held = whole["price"] if path[0] == "price" and len(path) > 1 else whole
    del held[path[-1]]
    keep_quote(book, whole, {"jobs": []}, model="b1", valid_until=date(2031, 4, 3))


MAY_LACK = {
    ("magnetite_kg",): "magnetite_p50",
    ("site_minutes",): "site_minutes_p10",
    ("second_day",): "second_day",
    ("price", "price_with_tax"): "price_with_tax",
    ("price", "chance_of_loss"): "chance_of_loss",
    ("price", "cost"): "cost_p50",
}


@pytest.mark.parametrize(("path", "column"), MAY_LACK.items(), ids=lambda each: str(each))
def test_a_quote_that_lacks_a_figure_stands_with_a_gap(
    path: tuple[str, ...], column: str, tmp_path: Path, small_book: Book
) -> None:
    book = Book(tmp_path / "book")
    keep(book)
    keep_without(book, *path)

    found = quotes_frame(book)

    assert found["quote_id"].tolist() == ["Q00001", "Q00002"]
    assert found[column].isna().tolist() == [False, True]
    assert found["price"].tolist() == [500.0, 500.0]
    assert quoted_and_done(book, small_book.current())["job_id"].size == 40


@pytest.mark.parametrize("path", [("firm_id",), ("job_id",), ("price",), ("price", "price"), ("price", "currency")])
def test_what_has_no_job_or_no_price_is_no_quote_and_is_named(path: tuple[str, ...], tmp_path: Path) -> None:
    book = Book(tmp_path / "book")
    keep(book)
    keep_without(book, *path)

    assert quotes_frame(book)["quote_id"].tolist() == ["Q00001"]
    assert damaged_quotes(book) == ("Q00002.jsonl",)
