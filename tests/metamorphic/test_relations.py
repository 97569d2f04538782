"""However the same rows are handed in, the core and feature tables are the same to the last digit."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipeline import renew
from pipeline.contract import JOB_LOG
from pipeline.intake.load import load
from pipeline.store.book import Book
from pipeline.verify.verify_book import verify
from tests.metamorphic.handing_in import FORMS, as_csv, by_job, by_table, differing, handed_in, shuffled, tables
from tests.metamorphic.worlds import World, make_world

Tables = dict[str, pl.DataFrame]


@pytest.fixture(scope="module")
def world() -> World:
    return make_world(seed=3)


@pytest.fixture(scope="module")
def whole(world: World, tmp_path_factory: pytest.TempPathFactory) -> Tables:
    """What one load of everything gives."""
    folder = tmp_path_factory.mktemp("whole")
    found = tables(handed_in(Book(folder / "book"), [world], folder))
    assert [found[name].height for name in JOB_LOG] == [world[name].height for name in JOB_LOG]
    return found


def test_split_by_job_in_either_order(world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    parts = by_job(world, 3)
    assert differing(tables(handed_in(book, parts, tmp_path)), whole) == []
    other = Book(tmp_path / "other")
    assert differing(tables(handed_in(other, parts[::-1], tmp_path / "reversed")), whole) == []
    assert verify(other).clean


def test_split_by_table_with_the_jobs_last(world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    order = [["catches", "readings", "callbacks"], ["emitters", "pipe_runs"], ["jobs"]]
    assert differing(tables(handed_in(book, by_table(world, order), tmp_path)), whole) == []


def test_rows_and_columns_in_another_order(world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    assert differing(tables(handed_in(book, [shuffled(world, seed=8)], tmp_path)), whole) == []


def test_handed_in_again_and_then_again_in_part(world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    log = as_csv(world, tmp_path / "log")
    assert [load([log], book).is_new for _ in range(2)] == [True, False]
    assert differing(tables(handed_in(book, by_job(world, 4)[:1], tmp_path)), whole) == []


@pytest.mark.parametrize("turn", [0, 3])
def test_each_table_in_a_form_of_its_own(turn: int, world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    forms = [*FORMS.values()][turn:] + [*FORMS.values()][:turn]
    parts = zip(world.items(), forms, strict=False)
    load([form({name: rows}, tmp_path / name) for (name, rows), form in parts], book)
    assert differing(tables(book), whole) == []


@pytest.mark.parametrize(("jobs", "dealt"), [(36, 18), pytest.param(240, 40, marks=pytest.mark.study)])
def test_jobs_renewed_few_by_few_equal_a_whole_build(
    jobs: int, dealt: int, tmp_path: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    world = make_world(seed=12, jobs=jobs)
    parts = by_job(world, dealt)
    rest = {name: pl.concat([part[name] for part in parts[3:]]) for name in world}
    calls: list[int] = []
    build_whole = renew.build_whole
    monkeypatch.setattr(renew, "build_whole", lambda *rest: (calls.append(1), build_whole(*rest)))
    loads = [{name: rows for name, rows in part.items() if rows.height} for part in (rest, *parts[:3])]
    found = tables(handed_in(book, loads, tmp_path))
    assert len(calls) < len(loads)  # at least one was renewed, not built whole
    whole = handed_in(Book(tmp_path / "other"), [world], tmp_path / "whole")
    assert differing(found, tables(whole)) == []
