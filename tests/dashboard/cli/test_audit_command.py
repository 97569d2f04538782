"""`sludgebook audit`: JSON for programs, a table for people, one sentence where it cannot be done."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from dashboard.cli.main import app
from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.store.book import Book

HAND_WRITTEN = Path(__file__).parents[2] / "data" / "hand_written"


@pytest.fixture(scope="module")
def book(simulated_book: Callable[..., Book]) -> Path:
    return simulated_book(300, 4).path


@pytest.fixture(scope="module")
def told(book: Path) -> dict[str, Any]:
    """What a program gets."""
    return dict(json.loads(run(book, "--json")))


def run(book: Path, *words: str) -> str:
    done = CliRunner().invoke(app, ["audit", "--book", str(book), *words])
    assert done.exit_code == 0
    return done.stdout


def test_a_program_gets_practices_engineers_and_findings(told: dict[str, Any]) -> None:
    assert {"practices", "engineers", "findings"} <= set(told)
    assert "curves" not in told
    assert told["jobs"] == 300
    assert {"simulated_jobs", "chance_findings"} <= {each["code"] for each in told["findings"]}
    names = {each["contrast"] for each in told["practices"]}
    assert {"filter_fitted:on_return|none", "predose_days:7|0", "isolation:one_at_a_time|all_open"} <= names


def test_jobs_and_callbacks_of_a_practice_are_those_of_the_tables(book: Path, told: dict[str, Any]) -> None:
    from pipeline.store.book import read_table

    build = Book(book).current()
    jobs = read_table(build, "jobs").merge(read_table(build, "ftr_callback"), on=["firm_id", "job_id"])
    fitted = jobs[jobs["filter_fitted"] == "on_return"]
    effect = {each["contrast"]: each for each in told["practices"]}["filter_fitted:on_return|none"]

    assert effect["jobs_with"] == len(fitted)
    assert effect["callbacks_with"] == int((fitted["first_debris_day"] <= 365).sum())


def test_a_person_gets_a_table_with_verdicts(book: Path) -> None:
    out = run(book, "--text")

    assert "Filter fitted on" in out
    assert "cannot be told yet" in " ".join(out.split())


def test_too_few_jobs_end_in_one_sentence(tmp_path: Path) -> None:
    load([HAND_WRITTEN], Book(tmp_path / "book"))

    done = CliRunner().invoke(app, ["audit", "--book", str(tmp_path / "book")])

    assert isinstance(done.exception, BadInput)
    assert "at least 20 jobs with follow-up" in str(done.exception)
