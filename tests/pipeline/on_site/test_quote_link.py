"""A job begun from a kept quote: the offer is won, its price travels, and it stands beside what was done at once."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from dashboard.services import on_site
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.entry_rows import job_log_rows
from pipeline.on_site.finish import hand_in
from pipeline.on_site.open_job import read_site_job
from pipeline.on_site.quote_link import quoted_surveys
from pipeline.quotes.kept_quotes import keep_quote, kept_quotes, say_what_became
from pipeline.quotes.quoted_and_done_rows import quoted_and_done
from pipeline.store.book import Book

SPANS = {"p10": 200.0, "p50": 300.0, "p90": 420.0}


def keep(book: Book, job_id: str, price: float, minutes: Any = SPANS) -> str:
    answer: dict[str, Any] = {
        "firm_id": "own",
        "job_id": job_id,
        "price": {"price": price, "price_with_tax": 1.2 * price, "chance_of_loss": 0.1, "currency": "GBP"},
        "second_day": 0.1,
        "magnetite_kg": {"p10": 0.5, "p50": 1.0, "p90": 2.0},
        "site_minutes": minutes,
    }
    answer["price"]["cost"] = {"p50": 0.7 * price}
    asked = {"jobs": [{"job_id": job_id, "system_type": "sealed", "heat_source": "boiler"}]}
    return keep_quote(book, answer, asked, model="m", valid_until=date.today() + timedelta(days=30))


def begin(book: Book, name: str, quote_id: str) -> None:
    (survey,) = [each for each in quoted_surveys(book) if each.quote_id == quote_id]
    began = datetime.now().replace(microsecond=0) - timedelta(hours=2)
    job = {name: value for name, value in survey.asked["jobs"][0].items() if name != "job_id"}
    facts = {"job": job, "flush_started_at": began, "quote_id": quote_id}
    on_site.save(book, name, "start", facts, Sender(f"start-{name}"))


def states(book: Book) -> list[tuple[str, str, tuple[str, str]]]:
    return [(kept.quote_id, kept.status, kept.job) for kept in kept_quotes(book)]


def test_a_job_begun_from_a_quote_marks_it_won_as_that_job_and_no_other(book: Book) -> None:
    first, second = keep(book, "Mill", 500.0), keep(book, "Orchard", 640.0)
    begin(book, "Orchard Row", second)

    assert states(book) == [(first, "offered", ("own", "Mill")), (second, "won", ("own", "Orchard Row"))]
    assert [survey.quote_id for survey in quoted_surveys(book)] == [first]  # the other was begun already


def test_the_finished_job_stands_beside_its_price_with_nothing_typed_twice(book: Book) -> None:
    keep(book, "Mill", 500.0)
    begin(book, "Orchard Row", keep(book, "Orchard", 640.0))
    record(book, "Orchard Row", "catch", {"mass_g": 900.0, "trap": "magnet"}, Sender("c"))
    on_site.save(book, "Orchard Row", "finish", {"flush_ended_at": datetime.now()}, Sender("f"))
    hand_in(book, "Orchard Row")

    (done,) = quoted_and_done(book, book.current()).to_dict("records")
    assert (done["job_id"], done["quoted_price"], done["quoted_minutes"]) == ("Orchard Row", 640.0, 300.0)
    assert (done["low_minutes"], done["high_minutes"]) == (200.0, 420.0)
    (job,) = job_log_rows(read_site_job(book, "Orchard Row"))["jobs"]
    assert (job["quoted_price"], job["quoted_minutes"], job["heat_source"]) == (640.0, 300.0, "boiler")


def test_a_link_that_was_not_written_is_made_when_the_job_is_handed_in(book: Book) -> None:
    """The computer stopped between the start and the note on the quote."""
    quote = keep(book, "Mill", 500.0)
    began = datetime.now().replace(microsecond=0) - timedelta(hours=2)
    facts = {"job": {"system_type": "sealed"}, "flush_started_at": began, "quote_id": quote}
    record(book, "Mill", "start", facts, Sender("s"), now=began)
    record(book, "Mill", "finish", {"flush_ended_at": datetime.now()}, Sender("f"))
    assert states(book)[0][1] == "offered"

    hand_in(book, "Mill")

    assert states(book) == [(quote, "won", ("own", "Mill"))]


def test_what_the_office_said_since_stands(book: Book) -> None:
    quote = keep(book, "Mill", 500.0)
    begin(book, "Mill", quote)
    say_what_became(book, quote, "withdrawn")
    on_site.save(book, "Mill", "finish", {"flush_ended_at": datetime.now()}, Sender("f"))

    hand_in(book, "Mill")

    assert states(book)[0][1] == "withdrawn"


def test_an_old_quote_without_minutes_begins_a_job_all_the_same(book: Book) -> None:
    quote = keep(book, "Mill", 500.0, minutes=None)
    begin(book, "Mill", quote)

    (job,) = job_log_rows(read_site_job(book, "Mill"), now=datetime.now())["jobs"]
    assert job["quoted_price"] == 500.0
    assert "quoted_minutes" not in job


@pytest.mark.parametrize("status", ["lost", "withdrawn"])
def test_no_job_is_offered_to_begin_from_a_quote_that_is_gone(book: Book, status: str) -> None:
    say_what_became(book, keep(book, "Mill", 500.0), status)

    assert quoted_surveys(book) == ()
