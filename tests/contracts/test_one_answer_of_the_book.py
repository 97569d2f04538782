"""One question, one answer, of what is kept and learnt: command, page and Python leave the same in the book."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboard import data
from dashboard.cli.main import app
from dashboard.services import reporting
from dashboard.services.build_tables import tables_of_job
from dashboard.services.watching import hourly_cost, hourly_costs, job_of_book, past
from models.quote.answer import as_json
from models.store import load_model
from pipeline.contract.findings import BadInput
from pipeline.contract.firm import Firm
from pipeline.intake.load import load
from pipeline.quotes.kept_quotes import kept_quotes
from pipeline.store.book import Book
from tests.contracts.surfaces import ROWS, Surfaces, differences, plain

Open = Callable[[Book], Surfaces]
HAND_WRITTEN = Path(__file__).parents[1] / "data" / "hand_written"


def test_a_quote_kept_by_the_command_and_by_the_page_is_kept_alike(
    older_book: Book, tmp_path: Path, open_book: Open
) -> None:
    shutil.copytree(older_book.path, tmp_path / "book")
    on = open_book(Book(tmp_path / "book"))
    path = tmp_path / "named.json"
    path.write_text(json.dumps({**ROWS, "jobs": [{**ROWS["jobs"][0], "job_id": "A-17"}]}), encoding="utf-8")

    on.command("quote", str(path), "--keep", "--json")
    quote, further = data.quote(on.build, *ROWS.values()), data.further(on.build, *ROWS.values())
    data.keep_quote(on.build, quote, "A-17", *ROWS.values(), further)

    one, other = kept_quotes(on.book)
    assert one.model == other.model == "an-earlier-build"
    assert one.valid_until == other.valid_until
    assert differences(plain(one.answer), plain(other.answer)) == []
    assert differences(plain(one.asked), plain(other.asked)) == []


def test_the_report_of_a_job_is_the_same_by_command_page_and_python(told_book: Book, open_book: Open) -> None:
    on = open_book(told_book)
    jobs = data.job_list(on.build)
    row = jobs[jobs["magnet_catches"] > 0].iloc[0]
    key = (str(row["firm_id"]), str(row["job_id"]))

    told = on.report("/".join(key), "job_report")[0]
    with on.drawn("job_report") as page:
        data.job_paper(on.build, *key)

    assert told == page[0] == reporting.job_contents(tables_of_job(on.book.current(), *key))


def test_open_rejects_are_the_same_by_command_and_page(tmp_path: Path, open_book: Open) -> None:
    on = open_book(Book(tmp_path / "book"))
    load([HAND_WRITTEN], on.book)

    page = data.open_rejects(str(on.book.current())).to_dict("records")

    assert len(page) == 5
    assert differences(on.command("rejects", "--json"), plain(page)) == []


def stored(book: Book) -> dict[str, Any]:
    """Everything that was learnt from the current build: facts and arrays of each model."""
    folder = book.models_dir(book.current())
    models = {manifest.parent.name: load_model(manifest.parent) for manifest in folder.glob("*/manifest.json")}
    return {
        name: plain({"facts": one.facts, "arrays": {each: array.tolist() for each, array in one.arrays.items()}})
        for name, one in models.items()
    }


def test_command_and_page_learn_the_same(small_book: Book, tmp_path: Path, open_book: Open) -> None:
    books = [Book(tmp_path / name) for name in ("command", "page")]
    for book in books:
        shutil.copytree(small_book.path, book.path)

    told = open_book(books[0]).command("train", "--json")
    data.train(open_book(books[1]).build, lambda done, of: None)

    by_command, by_page = (stored(book) for book in books)
    assert set(by_command) == {"quote", "return_visits", "catch"}
    assert differences(by_command, by_page) == []
    assert differences(told["backtest"], plain(data.backtest(data.shelf().build).as_json())) == []


def test_an_hour_is_priced_by_the_crew_and_of_a_frame_without_a_job_by_the_usual_crew() -> None:
    firm = Firm(hourly_rate=40.0, crew_size=2)
    jobs = pd.DataFrame({"crew_size": pd.array([3, None, 1], dtype="Int64")})

    assert hourly_costs(jobs, firm) == [120.0, 80.0, 40.0]
    assert hourly_cost(jobs, firm) == 120.0
    assert hourly_costs(jobs.iloc[:0], firm) == []
    assert hourly_cost(jobs.iloc[:0], firm) == 80.0
    assert hourly_cost(pd.DataFrame({"crew_size": []}), firm) == 80.0


def test_a_job_that_is_not_in_the_book_is_refused_in_a_sentence(told_book: Book, open_book: Open) -> None:
    on = open_book(told_book)
    build = on.book.current()

    with pytest.raises(BadInput, match="is not in the book"):
        data.job_of_book(on.build, "own", "nobody")
    with pytest.raises(BadInput, match="is not in the book"):
        job_of_book(tables_of_job(build, "own", "nobody"), "own", "nobody", on.book.firm(), past(on.book, build))


def test_a_book_whose_every_row_was_rejected_is_quoted_by_the_rule_everywhere(tmp_path: Path, open_book: Open) -> None:
    (tmp_path / "logs").mkdir()
    head, day = "job_id,system_type,visit_date,flush_started_at,flush_ended_at", "2024-03-04"
    rows = f"{head}\nA,a well,{day},{day}T09:00,{day}T12:00\n"
    (tmp_path / "logs" / "jobs.csv").write_text(rows, encoding="utf-8")
    on = open_book(Book(tmp_path / "book"))
    load([tmp_path / "logs"], on.book)

    told = on.command("quote", on.request(), "--json")

    assert (told["basis"]["method"], told["basis"]["finished_jobs"]) == ("typical_rule", 0)
    for quote in (data.quote(on.build, *ROWS.values()), on.report(on.request(), "quote_sheet")[1]):
        found = plain(as_json(quote))
        assert differences(found, {name: told[name] for name in found}) == []


def test_a_request_file_of_two_jobs_gets_no_sheet_even_where_one_of_them_is_refused(
    told_book: Book, tmp_path: Path
) -> None:
    path = tmp_path / "two.json"
    path.write_text(json.dumps([{"system_type": "sealed"}, {"system_type": "a well"}]), encoding="utf-8")

    done = CliRunner().invoke(
        app, ["report", str(path), "--pdf", str(tmp_path / "o.pdf"), "--book", str(told_book.path)]
    )

    assert "asks for 2 jobs" in str(done.exception)


@pytest.mark.parametrize("name", ["quotes", "quoted_and_done"])
def test_exported_quotes_are_those_of_the_page(told_book: Book, tmp_path: Path, open_book: Open, name: str) -> None:
    on = open_book(told_book)
    out = tmp_path / f"{name}.parquet"

    rows = on.command("export", name, str(out), "--json")["rows"]

    page = data.kept_quotes() if name == "quotes" else data.track_record(on.build).jobs
    assert rows == len(page) == len(pd.read_parquet(out))
