"""Commands about the book itself: rejects to mend, history, verify."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest
from typer.testing import CliRunner

from dashboard.cli.main import app
from pipeline.contract.findings import BadInput
from pipeline.intake.load import load
from pipeline.store.book import Book

HAND_WRITTEN = Path(__file__).parents[2] / "data" / "hand_written"

Run = Callable[..., tuple[int, str]]


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("commands") / "book"
    load([HAND_WRITTEN], Book(path))
    return path


@pytest.fixture
def command(book: Path) -> Run:
    def run(*arguments: object) -> tuple[int, str]:
        done = CliRunner().invoke(app, [*map(str, arguments), "--book", str(book)])
        return done.exit_code, done.stdout

    return run


def test_rejects_go_to_a_workbook(command: Run, tmp_path: Path) -> None:
    status, out = command("rejects", "--xlsx", tmp_path / "mend.xlsx", "--json")
    assert (status, json.loads(out)) == (0, {"out": str(tmp_path / "mend.xlsx"), "rows": 5})
    assert set(pl.read_excel(tmp_path / "mend.xlsx", sheet_id=0)) == {"jobs", "emitters", "catches"}


@pytest.mark.parametrize("more", [(), ("--xlsx", "never.xlsx"), ("--all",)])
def test_a_batch_that_was_never_received_is_not_one_without_rejects(
    command: Run, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    asked = CliRunner().invoke(app, ["rejects", "--batch", "2026-nowhere", *more, "--book", str(book)])

    assert isinstance(asked.exception, BadInput)
    assert asked.exception.sentence.startswith("The book has received no batch 2026-nowhere. The newest is ")
    assert not (tmp_path / "never.xlsx").exists()
    assert len(json.loads(command("rejects", "--batch", report_batch(book), "--json")[1])) > 0


def test_rejects_that_came_again_are_listed_on_request_only(tmp_path: Path) -> None:
    lines = (HAND_WRITTEN / "jobs.csv").read_text(encoding="utf-8").splitlines()
    mended = lines[7].replace(",0,", ",2,", 1)
    (tmp_path / "jobs.csv").write_text(f"{lines[0]}\n{mended}\n", encoding="utf-8")
    book = Book(tmp_path / "book")
    load([HAND_WRITTEN], book)
    load([tmp_path / "jobs.csv"], book)

    listed = [
        len(json.loads(CliRunner().invoke(app, ["rejects", "--book", str(book.path), *more]).stdout))
        for more in ([], ["--all"])
    ]
    assert listed == [4, 5]


def test_history_is_json_for_programs_and_a_table_for_people(command: Run) -> None:
    status, out = command("history", "H-05", "--json")
    versions = json.loads(out)
    assert status == 0
    assert [(v["table"], v["key"], v["state"], v["line"]) for v in versions][:3] == [
        ("jobs", "H-05", "accepted", 6),
        ("emitters", "1", "accepted", 14),
        ("emitters", "2", "rejected", 15),
    ]
    assert versions[2]["values"]["length_mm"] == "-1200"
    assert set(versions[0]) == {
        "table",
        "key",
        "values",
        "batch",
        "file",
        "line",
        "received_at",
        "state",
        "reasons",
        "changes",
    }
    assert "rejected" in command("history", "own/H-05", "--text")[1]


def test_verify_ends_with_status_one_when_something_differs(command: Run, book: Path) -> None:
    status, out = command("verify", "--json")
    report = json.loads(out)
    assert (status, report["clean"], report["findings"], report["batches"]) == (0, True, [], 1)

    stray = book / "received" / report_batch(book) / "stray.txt"
    stray.write_text("dear", encoding="utf-8")
    status, out = command("verify", "--text")
    stray.unlink()
    assert status == 1
    assert "stray.txt was not received with it" in out
    assert "The book is not clean" in out


def report_batch(book: Path) -> str:
    return next(folder.name for folder in (book / "received").iterdir())


def test_a_file_set_aside_is_listed_and_needs_a_person(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.intake.set_aside.check_batch", lambda *_: 1 / 0)
    path = tmp_path / "book"
    loaded = CliRunner().invoke(app, ["load", str(HAND_WRITTEN), "--book", str(path), "--strict", "--json"])
    listed = json.loads(CliRunner().invoke(app, ["rejects", "--book", str(path), "--json"]).stdout)

    assert (loaded.exit_code, json.loads(loaded.stdout)["findings"][-1]["code"]) == (1, "batch_set_aside")
    assert {"jobs.csv", "catches.csv"} <= {row["file"] for row in listed}
    assert {(row["line"], row["column"]) for row in listed} == {(None, "")}
    assert "ZeroDivisionError" in listed[0]["reason"]
    shown = CliRunner().invoke(app, ["rejects", "--book", str(path), "--text"])
    assert "set aside" in " ".join(shown.stdout.split())
