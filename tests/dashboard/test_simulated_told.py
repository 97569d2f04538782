"""For as long as a simulated job is in the book, every answer and every paper says how many of how many."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from typer.testing import CliRunner

from dashboard.cli.main import app
from dashboard.words.simulated_words import ALL, on_paper, simulated_part
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from pipeline.store.simulated import JobsHeld, jobs_held

REQUEST = {"system_type": "sealed", "emitters": [{"emitter_no": 1, "emitter_kind": "panel_22", "length_mm": 1000}]}


@pytest.fixture
def request_file(tmp_path: Path) -> Path:
    path = tmp_path / "request.json"
    path.write_text(json.dumps({"job_id": "Q-1", **REQUEST}), encoding="utf-8")
    return path


def answers(book: Book, *words: object) -> list[dict[str, Any]]:
    done = CliRunner().invoke(app, [*map(str, words), "--book", str(book.path), "--json"])
    assert done.exit_code == 0, done.output
    try:
        return [json.loads(done.stdout)]
    except ValueError:
        return [json.loads(line) for line in done.stdout.splitlines()]


def a_job(book: Book) -> str:
    jobs = read_table(book.current(), "jobs")
    return f"{jobs['firm_id'].iloc[0]}/{jobs['job_id'].iloc[0]}"


def test_every_answer_of_the_command_line_says_it(trained_book: Book, request_file: Path) -> None:
    told = [
        *answers(trained_book, "quote", request_file),
        *answers(trained_book, "watch", a_job(trained_book)),
        *answers(trained_book, "audit"),
        *answers(trained_book, "replay", "--at", "0.5"),
    ]

    assert len(told) > 10
    assert [each["book"] for each in told] == [{"jobs": 90, "simulated_jobs": 90}] * len(told)


def test_every_paper_says_it_at_its_foot(trained_book: Book, request_file: Path, tmp_path: Path) -> None:
    for what in (str(request_file), "audit", a_job(trained_book)):
        out = tmp_path / "paper.pdf"
        out.unlink(missing_ok=True)
        done = CliRunner().invoke(app, ["report", what, "--book", str(trained_book.path), "--pdf", str(out)])
        assert done.exit_code == 0, done.output
        document = pypdfium2.PdfDocument(out)
        for page in document:
            assert "90 of 90 jobs in the records are simulated." in page.get_textpage().get_text_range()
        document.close()


def test_of_two_firms_only_the_simulators_jobs_count(tmp_path: Path) -> None:
    rows = ("sim-1,A7,2025-03-06", "north,B1,2025-03-04", "south,B1,2025-03-03")
    heads = "firm_id,job_id,visit_date,system_type,flush_started_at,flush_ended_at"
    lines = [f"{row},sealed,{row.split(',')[2]}T09:00,{row.split(',')[2]}T12:00" for row in rows]
    log = tmp_path / "jobs.csv"
    log.write_text("\n".join([heads, *lines]), encoding="utf-8")
    book = Book(tmp_path / "book")

    assert jobs_held(book) == JobsHeld(0, 0)
    load([log], book)
    assert jobs_held(book) == JobsHeld(3, 1)


def test_what_is_said_of_none_one_some_and_all() -> None:
    assert (simulated_part(0, 3), on_paper(0, 3)) == ("", "")
    assert simulated_part(3, 3) == ALL
    assert simulated_part(2, 3).startswith("2 of 3 jobs in this book are simulated.")
    assert on_paper(1, 3) == "1 of 3 jobs in the records is simulated."
