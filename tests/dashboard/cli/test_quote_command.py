"""`sludgebook quote` by itself: a process that starts quickly, further answers for a few, none for many."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from dashboard.cli.quote import quote
from models.quote.offers.further import A_FEW
from pipeline.store.book import Book

JOB = {"system_type": "sealed", "emitters": [{"emitter_kind": "panel_22"}] * 9}
SLOW = ("sklearn", "scipy", "skops", "streamlit", "plotly", "rich.table", "synthetic_data")
"""Each takes from a tenth of a second to several seconds to import."""
RUN = """
import json, sys
from dashboard.cli.main import main
try:
    main()
finally:
    print(json.dumps(sorted(sys.modules)), file=sys.stderr)
"""


def asked(path: Path, jobs: int) -> Path:
    path.write_text(json.dumps([{**JOB, "job_id": f"J{i}"} for i in range(jobs)]))
    return path


def printed(capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_a_cold_quote_imports_nothing_that_is_slow(page_book: Book, tmp_path: Path) -> None:
    command = [sys.executable, "-c", RUN, "quote", str(asked(tmp_path / "one.json", 1)), "--book", str(page_book.path)]

    done = subprocess.run(command, capture_output=True, text=True, check=True)

    loaded = json.loads(done.stderr.splitlines()[-1])
    assert json.loads(done.stdout)["basis"]["method"] == "boosted"
    assert [name for name in SLOW if name in loaded] == []


def test_a_few_requests_get_other_plans_and_the_worth_of_a_sample(
    page_book: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    quote(asked(tmp_path / "few.json", 2), page_book.path, True)

    for line in printed(capsys):
        assert {change["practice"] for change in line["what_if"]} >= {"heat_source", "isolation"}
        assert line["water_sample"]["samples"] > 0


def test_many_requests_get_them_only_when_asked(
    page_book: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    many = asked(tmp_path / "many.json", A_FEW + 1)

    quote(many, page_book.path, True)
    assert all("what_if" not in line for line in printed(capsys))
    quote(many, page_book.path, True, True)
    assert all("what_if" in line for line in printed(capsys))


def test_quotes_stand_in_the_order_asked_and_once_each(
    page_book: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("dashboard.services.quoting.AT_ONCE", 4)

    quote(asked(tmp_path / "ten.json", 10), page_book.path, True, False)

    assert [line["job_id"] for line in printed(capsys)] == [f"J{i}" for i in range(10)]
