"""One question, one answer: command, page, paper and Python say the same of the same job, field by field."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest

from dashboard import data
from dashboard.papers.audit_contents import audit_contents
from dashboard.services import auditing, quoting, reporting, watching
from dashboard.services.build_tables import AUDIT_TABLES, tables_of_job, whole_tables
from dashboard.words import wording
from models.catch.records.serialization import as_json as watch_json
from models.practice.cohort.audited_jobs import Scope
from models.quote.answer import as_json as quote_json
from pipeline.store.book import Book
from tests.benchmarks.studies.practice_world import draw_world
from tests.contracts.surfaces import ROWS, Surfaces, differences, plain

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


def test_what_was_learnt_and_cannot_be_read_is_said_by_every_watch(
    told_book: Book, open_book: Open, tmp_path: Path
) -> None:
    shutil.copytree(told_book.path, tmp_path / "book")
    on = open_book(Book(tmp_path / "book"))
    for file in (on.book.models_dir(on.book.current()) / "catch").iterdir():
        file.write_bytes(b"{}")
    job, at = middle_of_a_job(on)

    told = on.command("watch", f"{job.firm_id}/{job.job_id}", "--at", f"{at:%Y-%m-%dT%H:%M:%S}", "--json")

    (said,) = [each for each in told["findings"] if each["code"] == "learnt_not_used"]
    assert "sludgebook train" in said["sentence"]
    assert differences(told, plain(watch_json(data.watch(job, at)))) == []
    assert differences(told, plain(watch_json(watched(on, job, at)))) == []


@pytest.fixture
def two_firms(told_book: Book, open_book: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Surfaces:
    """A book that reads as jobs of two firms, drawn with effects that an audit of them can tell."""
    drawn = ((draw_world(5, 1000).frames, "large"), (draw_world(6, 400).frames, "small"))
    tables = {
        table: pd.concat([getattr(frames, name).assign(firm_id=firm) for frames, firm in drawn], ignore_index=True)
        for table, name in zip(AUDIT_TABLES, ("jobs", "quote", "outcome", "callback"), strict=True)
    }
    shutil.copytree(told_book.path, tmp_path / "two_firms")  # a path of its own: pages keep what they read by it
    monkeypatch.setattr("pipeline.store.book.read_table", lambda build, name: tables[name])
    return open_book(Book(tmp_path / "two_firms"))


def test_an_audit_is_the_same_by_command_page_paper_and_python(two_firms: Surfaces) -> None:
    on, scope = two_firms, Scope(firms=("large",))
    firm, read = on.book.firm(), whole_tables(on.book.current())

    told = on.command("audit", "--curves", "--firm", "large", "--json")
    audit, view = data.audit(on.build, scope), data.own_firm(on.build, "large")
    drawn = on.report("audit", "audit_report", "--firm", "large")
    service, others = auditing.audit(read, firm, scope), auditing.against_others(read, "large")

    assert sum(each["difference"] is not None and each["worth"] is not None for each in told["practices"]) >= 8
    assert len(told["against_others"]["practices"]) == len(told["practices"])
    for one, beside in ((audit, view), (drawn[0], drawn[2]), (service, others)):
        assert differences(told, plain({**one.as_dict(), "against_others": beside.as_dict()})) == []
    with on.drawn("audit_report") as page:
        data.audit_paper(audit, view)
    assert audit_contents(page[0], page[2]) == audit_contents(drawn[0], drawn[2])
