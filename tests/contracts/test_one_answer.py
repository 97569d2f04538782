"""One question, one answer: command, page, paper and Python say the same of the same job, field by field."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from dashboard import data
from dashboard.services import auditing, quoting, reporting, watching
from dashboard.services.build_tables import tables_of_job, whole_tables
from dashboard.words import wording
from models.catch.records.serialization import as_json as watch_json
from models.quote.answer import as_json as quote_json
from pipeline.store.book import Book

from .surfaces import ROWS, Surfaces, differences, plain

if TYPE_CHECKING:
    from models.catch.records.job import JobCatch
    from models.catch.records.watch_result import Watch

Open = Callable[[Book], Surfaces]


def test_a_quote_is_the_same_by_command_page_paper_and_python(older_book: Book, open_book: Open) -> None:
    on = open_book(older_book)
    asked, firm = quoting.inputs_of(*ROWS.values(), on.book.firm()), on.book.firm()

    told = on.command("quote", on.request(), "--json")
    page = plain(quote_json(data.quote(on.build, *ROWS.values())) | data.further(on.build, *ROWS.values()).as_json())
    service = next(quoting.quotes(asked, quoting.forecaster(on.book), firm))
    drawn = on.report(on.request(), "quote_sheet")[1]

    assert {"unknown_column", "unusual_value", "model_older_than_records"} <= {f["code"] for f in told["findings"]}
    assert told["price"]["callbacks"] is not None
    assert differences(told, page) == []
    assert differences(told, plain(service.as_json())) == []
    assert differences(plain(quote_json(drawn)), plain(quote_json(service.quote))) == []


def test_the_papers_of_a_quote_say_the_same_from_command_and_page(older_book: Book, open_book: Open) -> None:
    on = open_book(older_book)
    told = on.command("quote", on.request(), "--json")
    firm, by = on.book.firm(), quoting.forecaster(on.book)
    asked = quoting.inputs_of(*ROWS.values(), firm)
    service = reporting.quote_contents(next(quoting.quotes(asked, by, firm)).quote, asked, firm, date.today())

    with on.drawn("quote_sheet") as page:
        data.quote_paper("client", data.quote(on.build, *ROWS.values()), *ROWS.values())

    for contents in (on.report(on.request(), "quote_sheet")[0], on.report(on.request(), "owner_sheet", "--owner")[0]):
        assert contents == page[0] == service
    assert list(service.findings) == [finding["sentence"] for finding in told["findings"]]
    assert service.prices[0][1] == wording.money(told["price"]["price"], told["price"]["currency"], exact=True)


def test_a_book_without_a_job_is_quoted_by_the_rule_everywhere(tmp_path_factory: Any, open_book: Open) -> None:
    on = open_book(Book(tmp_path_factory.mktemp("empty") / "book"))
    on.book.create()

    told = on.command("quote", on.request(), "--json")
    drawn = on.report(on.request(), "quote_sheet")[1]
    page = data.quote(on.build, *ROWS.values())

    assert (told["basis"]["method"], told["basis"]["finished_jobs"]) == ("typical_rule", 0)
    for quote in (page, drawn):
        assert differences(plain(quote_json(quote)), {name: told[name] for name in quote_json(quote)}) == []


def watched(on: Surfaces, job: JobCatch, at: datetime) -> Watch:
    """As Python asks, without a page."""
    known, build = watching.past(on.book, on.book.current()), on.book.current()
    read = tables_of_job(build, job.firm_id, job.job_id)
    return watching.watch(watching.job_of_book(read, job.firm_id, job.job_id, on.book.firm(), known), at, known)


def middle_of_a_job(on: Surfaces) -> tuple[JobCatch, datetime]:
    """A job with weighings enough, and the moment of one in its middle."""
    from models.catch.records.flush_clock import clock_at, minutes_at

    jobs = data.job_list(on.build)
    row = jobs[jobs["magnet_catches"] >= 8].iloc[0]
    job = data.job_of_book(on.build, row["firm_id"], row["job_id"])
    minutes = job.magnet_catches()[-3].minutes
    return job, clock_at(job.days, job.last_at, minutes_at(job.days, job.last_at), minutes).replace(microsecond=0)


def test_a_watch_is_the_same_by_command_page_and_python(told_book: Book, open_book: Open) -> None:
    on = open_book(told_book)
    job, at = middle_of_a_job(on)

    told = on.command("watch", f"{job.firm_id}/{job.job_id}", "--at", f"{at:%Y-%m-%dT%H:%M:%S}", "--json")
    page = data.watch(job, at)

    assert told["one_more_hour"]["callback_change"] is not None
    assert told["minutes_left"] is not None  # by what was learnt of crews
    assert differences(told, plain(watch_json(page))) == []
    assert differences(told, plain(watch_json(watched(on, job, at)))) == []


def test_what_was_learnt_and_cannot_be_read_is_said_by_every_watch(told_book: Book, open_book: Open) -> None:
    import shutil

    shutil.copytree(told_book.path, (folder := open_book(told_book).folder) / "book")
    on = open_book(Book(folder / "book"))
    job, at = middle_of_a_job(on)
    for file in (on.book.models_dir(on.book.current()) / "catch").iterdir():
        file.write_bytes(b"{}")
    data.on_site.st.cache_resource.clear()

    told = on.command("watch", f"{job.firm_id}/{job.job_id}", "--at", f"{at:%Y-%m-%dT%H:%M:%S}", "--json")

    (said,) = [each for each in told["findings"] if each["code"] == "learnt_not_used"]
    assert "sludgebook train" in said["sentence"]
    assert differences(told, plain(watch_json(data.watch(job, at)))) == []
    assert differences(told, plain(watch_json(watched(on, job, at)))) == []


def test_an_audit_is_the_same_by_command_page_paper_and_python(told_book: Book, open_book: Open) -> None:
    from models.practice.cohort.audited_jobs import Scope

    on = open_book(told_book)
    (firm_id,) = data.firms(on.build)

    told = on.command("audit", "--curves", "--firm", firm_id, "--json")
    audit, view = data.audit(on.build, Scope(firms=(firm_id,))), data.own_firm(on.build, firm_id)
    drawn = on.report("audit", "audit_report", "--firm", firm_id)
    read = whole_tables(on.book.current())
    service = auditing.audit(read, on.book.firm(), Scope(firms=(firm_id,)))

    page = plain({**audit.as_dict(), "against_others": view.as_dict()})
    assert differences(told, page) == []
    assert differences(plain(drawn[0].as_dict()), plain(service.as_dict())) == []
    assert differences(plain({**service.as_dict(), "against_others": drawn[2].as_dict()}), told) == []
