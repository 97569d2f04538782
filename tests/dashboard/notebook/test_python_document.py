"""Every line of dashboard/PYTHON.md runs on a small demo, and what it says of the answers is so."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

import sludgebook
from pipeline.store.book import Book

ROOT = Path(__file__).parents[3]
DOCUMENT = (ROOT / "dashboard" / "PYTHON.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def said(trained_book: Book, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The names that the document's blocks leave behind, run in order beside a book called as it says."""
    folder = tmp_path_factory.mktemp("notebook")
    (folder / "sludgebook-demo").symlink_to(trained_book.path)
    names: dict[str, Any] = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for block in re.findall(r"^```python\n(.*?)^```", DOCUMENT, re.MULTILINE | re.DOTALL):
            exec(compile(block, "PYTHON.md", "exec"), names)
    return names


def test_quotes_are_as_the_document_says(said: dict[str, Any]) -> None:
    columns = ["firm_id", "job_id", "target", "unit", "p05", "p10", "p25", "p50", "p75", "p90", "p95"]
    added = said["reasons"].groupby(["job_id", "target"]).agg(usual=("usual", "first"), amount=("amount", "sum"))
    medians = said["reasons"].groupby(["job_id", "target"])["median"].first()

    assert list(said["quantiles"].columns) == columns
    assert said["magnetite"]["job_id"].tolist() == said["survey"]["job_id"].tolist()
    assert added.sum(axis=1).to_numpy() == pytest.approx(medians.to_numpy())
    assert said["price"] > 0
    assert 0 <= said["loss"] <= 1


def test_the_held_out_share_is_of_thirty_jobs_that_were_not_learnt_from(said: dict[str, Any]) -> None:
    """A share of 0.8 seen in 30 jobs lies from 0.53 on in 999 of 1,000 draws (binomial law)."""
    assert len(said["seen"]) == 30
    assert said["share_inside"] > 0.53
    assert said["earlier"]["visit_date"].max() <= said["later"]["visit_date"].min()


def test_curves_are_as_the_document_says(said: dict[str, Any]) -> None:
    curve, curves = said["curve"], said["curves"]

    assert said["low"] < curve.asymptote_kg_ < said["high"]
    assert said["one"]["cumulative_magnetite_kg"].max() * 0.9 < said["hour_more"][0] < curve.asymptote_kg_
    assert curves["job"].tolist() == sorted(said["book"].catches["job_id"].unique())


def test_the_audit_is_as_the_document_says(said: dict[str, Any]) -> None:
    audit = said["audit"]

    assert said["table"]["practice"].tolist() == list(audit.effects_)
    assert all(bool(each.refused) != (each.difference is not None) for each in audit.effects_.values())
    assert said["assumptions"]


def test_the_document_speaks_of_all_that_can_be_imported() -> None:
    assert [name for name in sludgebook.__all__ if name != "BookFrames" and f"{name}" not in DOCUMENT] == []
