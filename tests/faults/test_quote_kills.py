"""Quotes are kept by processes that are killed: what was said to be kept is there, whole, and nothing else is."""

from __future__ import annotations

import os
import random
from datetime import date
from pathlib import Path

import pytest

from pipeline.quotes.kept_quotes import damaged_quotes, keep_quote, kept_quotes, say_what_became
from pipeline.store.book import Book
from pipeline.verify.verify_book import verify
from tests.faults.kill_many import Kill, die_at_call, in_child

QUOTES = 12


def _answer(number: int) -> dict[str, object]:
    price = {"price": 500.0 + number, "price_with_tax": 600.0, "currency": "GBP"}
    return {"firm_id": "own", "job_id": f"J{number}", "price": price, "note": "grey sludge " * (40 * number)}


def _keep_all(book: Book, said: Path) -> None:
    """Keep quotes one after the other, each won at once; a byte is noted whenever one of the two was said."""
    with said.open("ab", buffering=0) as out:
        for number in range(QUOTES):
            name = keep_quote(book, _answer(number), {"jobs": []}, model="m", valid_until=date(2031, 4, 3))
            out.write(b"k")
            say_what_became(book, name, "won")
            out.write(b"w")


def _calls(folder: Path) -> int:
    def count() -> None:
        calls = die_at_call(0)
        _keep_all(Book(folder / "book"), folder / "said")
        (folder / "calls").write_text(str(calls[0]))

    assert in_child(count) == 0
    return int((folder / "calls").read_text())


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills need a system that can fork")
@pytest.mark.parametrize(("kills", "least"), [(8, 6), pytest.param(30, 25, marks=pytest.mark.study)])
def test_quotes_said_to_be_kept_survive_every_kill(kills: int, least: int, tmp_path: Path) -> None:
    """Eight kills find with 90 % chance what is lost in a quarter of the work; thirty, what is lost in a twelfth."""
    (tmp_path / "counted").mkdir()
    calls, chance, struck = _calls(tmp_path / "counted"), random.Random(5), 0
    for kill in range(kills):
        book, said = Book(tmp_path / f"{kill}" / "book"), tmp_path / f"said-{kill}"
        status = in_child(lambda b=book, s=said: _keep_all(b, s), Kill(None, chance.randint(1, calls)))  # type: ignore[misc]
        struck += status == -9

        told = said.read_bytes() if said.exists() else b""
        kept = kept_quotes(book)
        assert told.count(b"k") <= len(kept) <= told.count(b"k") + 1
        assert told.count(b"w") <= sum(quote.status == "won" for quote in kept) <= told.count(b"w") + 1
        assert [dict(quote.answer) for quote in kept] == [_answer(number) for number in range(len(kept))]
        assert damaged_quotes(book) == ()
        assert not book.exists() or verify(book).findings == ()
    assert struck >= least
