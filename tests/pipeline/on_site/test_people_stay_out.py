"""People typed by hand are refused before anything is kept: names, phones, e-mails, streets, whole postcodes."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from pipeline.contract.findings import BadInput
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.open_job import read_site_job, site_jobs
from pipeline.quotes.kept_quotes import keep_quote, kept_quotes
from pipeline.store.book import Book

NOON = datetime(2025, 3, 4, 12, 0)
PRIVATE = {
    "ask for Mrs Alder": "name of a person",
    "ring 07700 900123": "phone number",
    "alder@example.org": "e-mail address",
    "12 Mill Lane": "street address",
    "van at XA1 4ZZ": "postcode",
}
"""Numbers and domains that are kept free for examples, invented names."""
FINE = ("2 KG of sand", "valve 3 stuck", "Mill Lane", "0012345678", "XA1", "2025-03-04-a", "DR 12", "pump 15-60")


def start(book: Book, name: str, **job: str) -> None:
    facts = {"job": {"system_type": "sealed", **job}, "flush_started_at": NOON}
    record(book, name, "start", facts, Sender(f"s-{name}"), now=NOON)


@pytest.mark.parametrize(("text", "what"), PRIVATE.items())
def test_in_the_name_of_a_job_a_note_or_the_leader(book: Book, text: str, what: str) -> None:
    with pytest.raises(BadInput, match=f"keeps no people.*name of the job: {what}"):
        start(book, text)
    with pytest.raises(BadInput, match=f"engineer id: {what}"):
        start(book, "J1", engineer_id=text)
    assert site_jobs(book) == ()

    start(book, "J1")
    for kind, of in (("change", {"note": text}), ("catch", {"mass_g": 10.0, "trap": "magnet", "note": text})):
        with pytest.raises(BadInput, match=f"note: {what}"):
            record(book, "J1", kind, of, Sender(kind), now=NOON)  # type: ignore[arg-type]
    assert len(read_site_job(book, "J1").events) == 1


@pytest.mark.parametrize("text", FINE)
def test_what_only_looks_a_little_like_it_is_taken(book: Book, text: str) -> None:
    start(book, text)
    record(book, text, "change", {"note": text}, Sender("n"), now=NOON)

    assert len(read_site_job(book, text).events) == 2


@pytest.mark.parametrize(("text", "what"), PRIVATE.items())
def test_in_a_quote_wherever_it_stands(book: Book, text: str, what: str) -> None:
    until = date.today() + timedelta(days=30)
    price = {"price": 500.0, "currency": "GBP"}
    for job_id, asked, where in (
        (text, {"jobs": [{"system_type": "sealed"}]}, "job id"),
        ("J1", {"jobs": [{"system_type": "sealed", "postcode_district": text}]}, "postcode district"),
        ("J1", {"jobs": [], "emitters": [{}, {"emitter_kind": text}]}, "emitter kind"),
    ):
        with pytest.raises(BadInput, match=f"Nothing was kept.*{where}: {what}"):
            keep_quote(book, {"firm_id": "own", "job_id": job_id, "price": price}, asked, model="m", valid_until=until)

    assert kept_quotes(book) == ()
