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


@pytest.mark.parametrize(("dealt", "step"), [(2, -1), *(pytest.param(3, s, marks=pytest.mark.study) for s in (1, -1))])
def test_split_by_job_in_either_order(
    dealt: int, step: int, world: World, whole: Tables, book: Book, tmp_path: Path
) -> None:
    """Two parts, the later handed in first, find whatever rests on the order of rows or on the first of two loads; what
    takes three loads to go wrong is for the study."""
    parts = by_job(world, dealt)[::step]
    assert differing(tables(handed_in(book, parts, tmp_path)), whole) == []
    assert verify(book).clean


def test_split_by_table_with_the_jobs_last(world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    order = [["catches", "readings", "callbacks"], ["emitters", "pipe_runs"], ["jobs"]]
    assert differing(tables(handed_in(book, by_table(world, order), tmp_path)), whole) == []


def test_rows_and_columns_in_another_order(world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    assert differing(tables(handed_in(book, [shuffled(world, seed=8)], tmp_path)), whole) == []


def test_handed_in_again_and_then_again_in_part(world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    log = as_csv(world, tmp_path / "log")
    assert [load([log], book).is_new for _ in range(2)] == [True, False]
    assert differing(tables(handed_in(book, by_job(world, 4)[:1], tmp_path)), whole) == []


@pytest.mark.parametrize("turn", [0, pytest.param(3, marks=pytest.mark.study)])
def test_each_table_in_a_form_of_its_own(turn: int, world: World, whole: Tables, book: Book, tmp_path: Path) -> None:
    """Each of six tables in one of seven forms; the other turn deals the forms otherwise."""
    forms = [*FORMS.values()][turn:] + [*FORMS.values()][:turn]
    parts = zip(world.items(), forms, strict=False)
    load([form({name: rows}, tmp_path / name) for (name, rows), form in parts], book)
    assert differing(tables(book), whole) == []


STUDIED = [pytest.param(jobs, dealt, 3, marks=pytest.mark.study) for jobs, dealt in ((36, 18), (240, 40))]


@pytest.mark.parametrize(("jobs", "dealt", "later"), [(20, 24, 1), *STUDIED])
def test_jobs_renewed_few_by_few_equal_a_whole_build(
    jobs: int, dealt: int, later: int, tmp_path: Path, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One renewal finds a table left out or renewed by other rules; what only renewals of renewals or blocks of many
    rows bring out is for the study."""
    world = make_world(seed=12, jobs=jobs)
    parts = by_job(world, dealt)
    rest = {name: pl.concat([part[name] for part in parts[later:]]) for name in world}
    calls: list[int] = []
    build_whole = renew.build_whole
    monkeypatch.setattr(renew, "build_whole", lambda *rest: (calls.append(1), build_whole(*rest)))
    loads = [{name: rows for name, rows in part.items() if rows.height} for part in (rest, *parts[:later])]
    found = tables(handed_in(book, loads, tmp_path))
    assert len(calls) < len(loads)  # at least one was renewed, not built whole
    whole = handed_in(Book(tmp_path / "other"), [world], tmp_path / "whole")
    assert differing(found, tables(whole)) == []
