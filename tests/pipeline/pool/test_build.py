"""A build of a pool: only what changed is worked out, the result is that of a whole build, and a firm can go."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.contract import BUILT
from pipeline.contract.findings import SludgebookError
from pipeline.intake.load import load
from pipeline.pool.add import add
from pipeline.pool.build_pool import build_pool
from pipeline.pool.engines import InProcess
from pipeline.pool.lake import Lake
from pipeline.pool.withdraw import withdraw
from pipeline.store.book import Book, read_arrow, read_table
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD

WriteLog = Callable[..., Path]


def all_tables(lake: Lake) -> dict[str, pl.DataFrame]:
    build = lake.book.current()
    return {name: pl.DataFrame(read_arrow(build, name)).sort(list(table.key)) for name, table in BUILT.items()}


def assert_same(found: dict[str, pl.DataFrame], wanted: dict[str, pl.DataFrame]) -> None:
    for name, rows in wanted.items():
        assert_frame_equal(found[name], rows, check_exact=True)


@pytest.fixture
def small_firm(write_log: WriteLog, tmp_path: Path) -> Book:
    """A firm of one job with one catch."""
    book = Book(tmp_path / "small" / "book")
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=[CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,500"])], book)
    return book


def test_only_the_firm_that_changed_is_worked_out_and_the_result_is_that_of_a_whole_build(
    own_pool: Lake, small_firm: Book, write_log: WriteLog
) -> None:
    add(small_firm, own_pool)
    first = build_pool(own_pool, InProcess())
    load([write_log(catches=[CATCHES_HEAD, "a,2,2025-03-04T11:00,magnet,300"])], small_firm)
    (added,) = add(small_firm, own_pool)
    second = build_pool(own_pool, InProcess())
    by_firm = all_tables(own_pool)
    whole = build_pool(own_pool, InProcess(), anew=True)

    assert (first.worked_out, second.worked_out, whole.worked_out) == (1, 1, second.firms)
    assert added.is_new
    mine = by_firm["ftr_outcome"].filter(pl.col("firm_id") == added.firm)
    assert mine["magnetite_kg"].to_list() == [0.4]  # (500 + 300) g wet at 2.0
    assert_same(by_firm, all_tables(own_pool))


def test_another_ratio_of_the_pool_works_out_every_firm(own_pool: Lake) -> None:
    settings = own_pool.book.firm_file
    before = all_tables(own_pool)["ftr_outcome"]["magnetite_kg"].sum()
    settings.write_text(
        settings.read_text(encoding="utf-8").replace("\nwet_dry_ratio = 2.0", "\nwet_dry_ratio = 2.5"), encoding="utf-8"
    )
    built = build_pool(own_pool, InProcess())

    assert built.worked_out == built.firms
    assert all_tables(own_pool)["ftr_outcome"]["magnetite_kg"].sum() < 0.95 * before


def test_a_firm_withdrawn_is_gone_whole(own_pool: Lake) -> None:
    before = all_tables(own_pool)
    firm = before["jobs"]["firm_id"].value_counts().sort("count")["firm_id"][0]
    withdraw(own_pool, firm)
    after = all_tables(own_pool)

    assert_same(
        after, {name: rows.filter(pl.col("firm_id") != firm) for name, rows in before.items() if "firm_id" in rows}
    )
    assert not [path for path in own_pool.path.rglob("*") if firm in path.name]
    assert len(after["ledger"]) < len(before["ledger"])
    assert build_pool(own_pool, InProcess()).worked_out == 0


def test_the_last_firm_withdrawn_leaves_an_empty_pool(small_firm: Book, tmp_path: Path) -> None:
    lake = Lake(tmp_path / "lake")
    (added,) = add(small_firm, lake)
    build_pool(lake, InProcess())
    withdraw(lake, added.firm)

    with pytest.raises(SludgebookError, match="holds no jobs yet"):
        lake.book.current()
    with pytest.raises(SludgebookError, match="holds no firm yet"):
        build_pool(lake, InProcess())
    with pytest.raises(SludgebookError, match="holds no firm nobody"):
        withdraw(lake, "nobody")


def test_the_build_before_can_be_read_until_the_next_but_one(own_pool: Lake, small_firm: Book) -> None:
    before = own_pool.book.current()
    jobs = len(read_table(before, "jobs"))
    add(small_firm, own_pool)
    build_pool(own_pool, InProcess())

    assert len(read_table(before, "jobs")) == jobs
    assert len(read_table(own_pool.book.current(), "jobs")) == jobs + 1


def test_a_firm_whose_callback_tables_were_empty_is_followed_as_in_its_book(
    write_log: WriteLog, tmp_path: Path
) -> None:
    book, lake = Book(tmp_path / "quiet" / "book"), Lake(tmp_path / "lake")
    log = write_log(jobs=[JOBS_HEAD, JOB_A], callbacks=["job_id,called_back_on,cause"])
    load([log], book)
    add(book, lake)
    build_pool(lake, InProcess())

    wanted = read_table(book.current(), "ftr_callback")["observed_days"].tolist()
    assert read_table(lake.book.current(), "ftr_callback")["observed_days"].tolist() == wanted
