"""The only door to the book: what it finds, what it caches, what it refuses."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import numpy as np
import pytest

from dashboard import data
from dashboard.data.curves import curves_by_job
from dashboard.data.jobs import learnt_models
from models.catch.band import picked, totals
from pipeline.contract.findings import SludgebookError
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table


@pytest.fixture
def opened(page_book: Book, monkeypatch: pytest.MonkeyPatch) -> str:
    """The trained book named to the app; its build."""
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(page_book.path))
    return data.shelf().build


def test_the_state_of_the_shelf_follows_the_book(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, page_book: Book
) -> None:
    states = []
    for folder in ("", str(tmp_path / "none"), str(page_book.path)):
        monkeypatch.setenv("SLUDGEBOOK_BOOK", folder)
        states.append(data.shelf().state)
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(tmp_path / "file"))
    states.append(data.shelf().state)

    assert states == ["not_named", "empty", "ready", "broken"]


def test_a_read_is_kept_and_handed_out_as_a_copy(opened: str, monkeypatch: pytest.MonkeyPatch) -> None:
    first = data.table(opened, "ftr_outcome")
    first.loc[first.index[0], "magnetite_kg"] = -1.0
    first.iloc[1:3, first.columns.get_loc("magnetite_kg")] = -2.0
    first["flush_minutes"] = -3.0
    del first["site_minutes"]
    monkeypatch.setattr("pipeline.store.book.read_table", lambda *_: pytest.fail("read twice"))

    second = data.table(opened, "ftr_outcome")

    assert (second[["magnetite_kg", "flush_minutes", "site_minutes"]].astype(float).dropna() >= 0).all(axis=None)


def test_reads_are_keyed_by_the_build(opened: str, tmp_path: Path) -> None:
    with pytest.raises(SludgebookError):
        data.table(str(tmp_path / "another.duckdb"), "ftr_outcome")


def test_the_list_holds_every_job_once_newest_first(opened: str) -> None:
    jobs = data.job_list(opened)

    assert len(jobs) == 90
    assert jobs["visit_date"].is_monotonic_decreasing
    assert not jobs.duplicated(["firm_id", "job_id"]).any()


def test_curves_end_at_the_outcome(opened: str) -> None:
    jobs = data.job_list(opened)
    weighed = jobs[jobs["magnet_catches"] > 0]
    curves = data.curves_of(opened, weighed)

    # the outcome adds weighings rounded to a microgram, at most half of one wrong each
    assert totals(curves) == pytest.approx(weighed["magnetite_kg"].to_numpy(), abs=0.5e-9 * 200)
    assert len(weighed) >= 85


def test_places_follow_the_keys_whatever_letters_they_hold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The read numbers jobs in the database's order of text, the list in pandas': both by code point."""
    names = ["b", "a", "B", "ä", "10", "9", "Z-1", "z_1", "é"]
    logs = tmp_path / "logs"
    logs.mkdir()
    day = "2024-03-04"
    jobs = [f"{name},sealed,{day},{day}T09:00,{day}T12:00" for name in names]
    catches = [f"{name},1,{day}T10:00,magnet,{100 * (at + 1)},dry" for at, name in enumerate(names)]
    for table, head, rows in (
        ("jobs", "job_id,system_type,visit_date,flush_started_at,flush_ended_at", jobs),
        ("catches", "job_id,catch_no,caught_at,trap,mass_g,weighed", catches),
    ):
        (logs / f"{table}.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    book = Book(tmp_path / "book")
    load([logs], book)
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(book.path))

    jobs_listed = data.job_list(str(book.current()))

    kilos = dict(zip(jobs_listed["job_id"], totals(data.curves_of(str(book.current()), jobs_listed)), strict=True))
    assert kilos == pytest.approx({name: 0.1 * (at + 1) for at, name in enumerate(names)})


def test_a_job_of_the_book_is_priced_by_its_crew(opened: str) -> None:
    jobs = data.job_list(opened)
    row = jobs[(jobs["crew_size"] == 2) & (jobs["magnet_catches"] > 0)].iloc[0]

    job = data.job_of_book(opened, row["firm_id"], row["job_id"])

    assert job.hourly_cost == pytest.approx(2 * data.firm().hourly_rate)
    assert len(job.magnet_catches()) == row["magnet_catches"]


def test_holdings_count_what_the_build_holds(opened: str) -> None:
    held = data.holdings(opened)

    assert (held.jobs, held.simulated_jobs, held.is_simulated) == (90, 90, True)
    assert held.catches == len(read_table(Path(opened), "catches"))


def test_without_models_there_is_one_sentence(page_book: Book, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    os.symlink(page_book.path / "builds", tmp_path / "builds")
    (tmp_path / "received").mkdir()
    (tmp_path / "current").write_text((page_book.path / "current").read_text())
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(tmp_path))
    build = data.shelf().build

    assert data.why_not_trained(build) == "The forecasts have not been learnt from these jobs yet."
    with pytest.raises(SludgebookError, match="not been learnt"):
        data.quote(build, [{"system_type": "sealed"}], [], [])


@pytest.mark.parametrize("order", [[0, 1, 2, 3, 4], [3, 4, 0, 1, 2], [4, 0, 3, 2, 1]])
def test_curves_are_told_apart_in_whatever_order_a_build_holds_them(order: list[int]) -> None:
    jobs = np.array([70, 20, 50], dtype=np.uint64)  # marks in the order of the jobs; the second has no weighing
    marks = np.array([70, 70, 70, 50, 50], dtype=np.uint64)[order]
    minutes, kilos = np.array([10.0, 20.0, 30.0, 5.0, 15.0])[order], np.array([1.0, 2.0, 3.0, 4.0, 5.0])[order]

    curves = curves_by_job(marks, jobs, minutes, kilos)

    assert curves.size.tolist() == [3, 0, 2]
    both = picked(curves, np.array([0, 2]))
    assert both.x.tolist() == [10.0, 20.0, 30.0, 5.0, 15.0]
    assert both.y.tolist() == [1.0, 2.0, 3.0, 4.0, 5.0]


def test_an_empty_build_has_no_curve() -> None:
    nothing, none = np.zeros(0), np.zeros(0, dtype=np.uint64)

    assert curves_by_job(none, none, nothing, nothing).size.tolist() == []


def test_models_learnt_anew_by_another_process_are_read_anew(
    page_book: Book, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shutil.copytree(page_book.path, tmp_path / "book")
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(tmp_path / "book"))
    build = data.shelf().build
    folder = data.book().models_dir(Path(build))

    before = (data.quote_model(folder), data.backtest(build), learnt_models(folder), data.risk_per_kg(build))
    again = (data.quote_model(folder), data.backtest(build), learnt_models(folder), data.risk_per_kg(build))
    for manifest in folder.glob("*/manifest.json"):
        told = manifest.stat()
        os.utime(manifest, ns=(told.st_atime_ns, told.st_mtime_ns + 1))
    anew = (data.quote_model(folder), data.backtest(build), learnt_models(folder), data.risk_per_kg(build))

    assert [one is other for one, other in zip(before, again, strict=True)] == [True] * 4
    assert [one is other for one, other in zip(before, anew, strict=True)] == [False] * 4
