"""The contract is well formed, and the tables of a real build are what it says, column by column."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from pipeline.contract import BUILT, JOB_LOG
from pipeline.contract.columns import Column, Table
from pipeline.store.book import Book, read, read_table

# Whole numbers that count or measure nothing: they name a row.
IDENTIFIERS = {"emitter_no", "focus_emitter_no", "run_no", "catch_no", "batch_no", "source_no", "line"}

_COLUMNS = """
    select column_name, data_type, comment from duckdb_columns()
    where table_name = $table order by column_index
"""


def all_columns() -> Iterator[tuple[Table, Column]]:
    for table in (*JOB_LOG.values(), *BUILT.values()):
        for column in table.columns:
            yield table, column


def test_every_number_has_a_unit() -> None:
    bare = {
        f"{table.name}.{column.name}"
        for table, column in all_columns()
        if column.kind in ("number", "integer") and not column.unit and column.name not in IDENTIFIERS
    }

    assert bare == set()
    assert {column.name for _, column in all_columns() if column.name in IDENTIFIERS} == IDENTIFIERS


def test_only_numbers_have_units_and_ranges() -> None:
    odd = [
        f"{table.name}.{column.name}"
        for table, column in all_columns()
        if column.kind not in ("number", "integer") and (column.unit or column.low is not None)
    ]

    assert odd == []


def test_ranges_are_in_order_and_choices_are_named() -> None:
    for table, column in all_columns():
        name = f"{table.name}.{column.name}"
        assert column.kind != "choice" or column.choices, name
        assert column.low is None or column.high is None or column.low < column.high, name
        assert column.warn_low is None or column.warn_high is None or column.warn_low < column.warn_high, name


@pytest.mark.parametrize("table", [*JOB_LOG.values(), *BUILT.values()], ids=lambda table: table.name)
def test_a_key_is_made_of_columns_of_its_table(table: Table) -> None:
    assert table.key
    assert set(table.key) <= set(table.names)
    assert len(set(table.names)) == len(table.names)


def test_a_quote_knows_only_what_is_known_before_the_visit() -> None:
    late = [
        c.name
        for c in (*BUILT["ftr_quote"].columns, *BUILT["ftr_volume"].columns)
        if c.known_by not in ("key", "survey", "plan")
    ]

    assert late == []


@pytest.mark.parametrize("table", BUILT.values(), ids=lambda table: table.name)
def test_a_built_table_equals_the_contract_in_name_order_and_type(small_book: Book, table: Table) -> None:
    built = read(small_book.current(), _COLUMNS, table=table.name)

    assert list(zip(built["column_name"], built["data_type"], strict=True)) == [
        (column.name, column.dtype) for column in table.columns
    ]


@pytest.mark.parametrize("table", BUILT.values(), ids=lambda table: table.name)
def test_every_column_of_a_build_carries_its_meaning_and_unit(small_book: Book, table: Table) -> None:
    built = read(small_book.current(), _COLUMNS, table=table.name)

    assert list(built["comment"]) == [column.label for column in table.columns]


def test_every_table_of_a_build_is_in_the_contract_and_says_its_grain(small_book: Book) -> None:
    tables = read(small_book.current(), "select table_name, comment from duckdb_tables()")

    assert dict(zip(tables["table_name"], tables["comment"], strict=True)) == {
        table.name: table.grain for table in BUILT.values()
    }


@pytest.mark.parametrize("table", BUILT.values(), ids=lambda table: table.name)
def test_keys_are_whole_and_stand_once(small_book: Book, table: Table) -> None:
    keys = read_table(small_book.current(), table.name)[list(table.key)]

    assert keys.duplicated().sum() == 0
    named = keys.drop(columns=[name for name in ("column_name",) if name in keys])  # empty: the whole row
    assert named.isna().sum().sum() == 0


@pytest.mark.parametrize("table", BUILT.values(), ids=lambda table: table.name)
def test_choices_hold_no_other_word(small_book: Book, table: Table) -> None:
    frame = read_table(small_book.current(), table.name)
    choices = {column.name: set(column.choices) for column in table.columns if column.choices}
    strange = {name: set(frame[name].dropna()) - allowed for name, allowed in choices.items()}

    assert {name: words for name, words in strange.items() if words} == {}


@pytest.mark.parametrize("name", sorted(set(BUILT) - {"rejects", "job_warnings", "row_warnings", "visit_rejects"}))
def test_the_small_book_fills_every_table_that_a_clean_log_fills(small_book: Book, name: str) -> None:
    assert len(read_table(small_book.current(), name)) > 0
