"""`sludgebook pool …`: added, built, listed, withdrawn; and asked like a book in between."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from dashboard.cli.main import app
from pipeline.store.book import Book


def run(*arguments: object) -> Any:
    done = CliRunner().invoke(app, [*map(str, arguments), "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout) if done.stdout.strip() else None


@pytest.fixture(scope="module")
def lake(small_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pooled") / "lake"
    (added,) = run("pool", "add", small_book.path, folder)
    assert (added["jobs"], added["is_new"]) == (40, True)
    built = run("pool", "build", folder)
    assert (built["firms"], built["jobs"], built["worked_out"], built["findings"]) == (1, 40, 1, [])
    return folder


def test_a_pool_answers_like_a_book(lake: Path, small_book: Book, tmp_path: Path) -> None:
    run("export", "ftr_outcome", tmp_path / "pool.csv", "--book", lake)
    run("export", "ftr_outcome", tmp_path / "book.csv", "--book", small_book.path)
    columns = slice(2, None)  # what comes after firm and job
    pool, book = (
        sorted(line.split(",")[columns] for line in (tmp_path / name).read_text().splitlines())
        for name in ("pool.csv", "book.csv")
    )

    assert pool == book
    (firm,) = run("pool", "list", lake)["firms"]
    assert firm["jobs"] == 40


def test_what_a_pool_is_not_for_is_said(lake: Path, small_logs: Path) -> None:
    for words in (("load", small_logs), ("verify",), ("rebuild",), ("history", "J-1")):
        done = CliRunner().invoke(app, [*map(str, words), "--book", str(lake)])
        assert "is a pool" in str(done.exception or done.output)


def test_a_firm_goes_as_it_came(lake: Path, small_book: Book, tmp_path: Path) -> None:
    mine = tmp_path / "lake"
    (added,) = run("pool", "add", small_book.path, mine)
    run("pool", "build", mine)

    assert run("pool", "withdraw", mine, added["firm"]) == {"withdrawn": added["firm"]}
    assert run("pool", "list", mine) == {"firms": [], "left_out": []}
