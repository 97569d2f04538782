"""A book goes into a lake: its rows, its own results, none of its names."""

from __future__ import annotations

import polars as pl
import pytest

from pipeline.contract import BUILT
from pipeline.contract.findings import SludgebookError
from pipeline.intake.load import load
from pipeline.pool.add import add
from pipeline.pool.build_pool import build_pool
from pipeline.pool.engines import InProcess
from pipeline.pool.hidden import TEXT_KEPT, hidden_firm
from pipeline.pool.lake import Lake, spoilt_files
from pipeline.store.book import Book, read_arrow, read_table
from pipeline.verify.verify_book import verify
from tests.pipeline.pool.conftest import Pool

OF_THE_FIRM = ("firm_id", "job_id", "engineer_id", "batch_no", "batch_id", "file", "value", "loaded_on")
"""Columns that a pool holds in other words, or not at all; and the day of a load."""


def figures(book: Book, firm: str, name: str) -> pl.DataFrame:
    """A table's rows of one firm without what tells the firm, in an order that its ids do not decide."""
    rows = pl.DataFrame(read_arrow(book.current(), name)).filter(pl.col("firm_id") == firm)
    kept = [c for c in rows.columns if c not in (*OF_THE_FIRM, "postcode_district", "room", "note")]
    return rows.select(kept).sort(kept)


@pytest.mark.parametrize("name", [name for name, table in BUILT.items() if "firm_id" in table.names])
@pytest.mark.parametrize(("book", "firm"), [("hand", "own"), ("hand", "neighbour"), ("simulated", None)])
def test_a_firms_figures_in_the_pool_are_those_of_its_book(pool: Pool, book: str, firm: str | None, name: str) -> None:
    own = pool.books[book]
    firm = firm or str(read_table(own.current(), "jobs")["firm_id"].iloc[0])
    hidden = hidden_firm(own.id_key(), firm)

    assert figures(pool.lake.book, hidden, name).equals(figures(own, firm, name))


def test_two_firms_of_one_name_stay_two(pool: Pool) -> None:
    owns = {hidden_firm(pool.books[name].id_key(), "own") for name in ("hand", "other")}
    found = read_table(pool.lake.book.current(), "jobs")

    assert len(owns) == 2
    assert owns <= set(found["firm_id"])
    assert found["job_id"].is_unique  # a number that firms share is a job in each
    assert len(found) == sum(len(read_table(book.current(), "jobs")) for book in pool.books.values())


def test_no_word_of_a_firm_is_in_the_lake(pool: Pool) -> None:
    written = b"".join(path.read_bytes() for path in sorted(pool.lake.path.rglob("*.parquet")))
    known = set()
    for book in pool.books.values():
        jobs = read_table(book.current(), "jobs")
        known |= {str(each) for column in ("job_id", "engineer_id") for each in jobs[column].dropna()}
    words = {word for word in known if len(word) > 3} | {"neighbour", "callbacks.csv", "jobs.csv"}

    assert len(words) > 50
    assert [word for word in sorted(words) if word.encode() in written] == []
    assert TEXT_KEPT == frozenset()


def test_places_rooms_and_notes_stay_at_home(pool: Pool) -> None:
    build = pool.lake.book.current()

    for table, column in (("jobs", "postcode_district"), ("emitters", "room"), ("catches", "note")):
        assert read_table(build, table)[column].isna().all(), column
    values = read_table(build, "rejects")["value"].dropna()
    assert values.str.fullmatch(r"\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d)?)?").all()  # times that the build itself compared
    assert len(read_table(pool.books["hand"].current(), "rejects")["value"].dropna()) > len(values)


def test_a_simulated_firm_stays_known_as_one(pool: Pool) -> None:
    jobs = read_table(pool.lake.book.current(), "jobs")

    assert jobs["is_simulated"].sum() == len(read_table(pool.books["simulated"].current(), "jobs"))


def test_adding_twice_adds_nothing(own_pool: Lake, books: dict[str, Book]) -> None:
    before = sorted(path.relative_to(own_pool.path) for path in own_pool.firms.rglob("*"))

    again = add(books["hand"], own_pool)
    built = build_pool(own_pool, InProcess())

    assert [each.is_new for each in again] == [False, False]
    assert sorted(path.relative_to(own_pool.path) for path in own_pool.firms.rglob("*")) == before
    assert built.worked_out == 0


def test_every_row_of_a_firm_ends_in_one_of_five_states(pool: Pool) -> None:
    ledger = read_table(pool.lake.book.current(), "ledger")
    states = ["accepted", "rejected", "duplicates", "waiting", "superseded"]

    assert (ledger[states].sum(axis=1) == ledger["rows"]).all()
    assert ledger["rejected"].sum() > 0


def test_the_files_of_a_part_are_those_that_were_written(pool: Pool) -> None:
    parts, faults = pool.lake.newest_parts()

    assert faults == ()
    assert [spoilt_files(part) for part in parts] == [()] * len(parts)


def test_a_pool_is_no_book_to_load_into_or_to_verify(own_pool: Lake, small_logs: object) -> None:
    with pytest.raises(SludgebookError, match="is a pool"):
        load([small_logs], own_pool.book)  # type: ignore[list-item]
    with pytest.raises(SludgebookError, match="is a pool"):
        verify(own_pool.book)


def test_a_book_that_is_no_pool_is_not_taken_for_one(small_book: Book, tmp_path: object) -> None:
    with pytest.raises(SludgebookError, match="There is no pool at"):
        build_pool(Lake(small_book.path), InProcess())
    with pytest.raises(SludgebookError, match="with other things in it"):
        add(small_book, Lake(small_book.path.parent))
