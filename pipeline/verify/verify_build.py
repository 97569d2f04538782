"""Verify, the build: every table against the same table built again; the ledger against files and tables."""

from __future__ import annotations

from pathlib import Path

import duckdb
import polars as pl

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import Finding
from pipeline.store.book import Book, new_build, read_arrow, read_records
from pipeline.store.build_faults import make_again, unreadable
from pipeline.store.checked_files import read_checked

_COLUMNS = """
select table_name, string_agg(column_name || ' ' || data_type, ', ' order by column_index) as columns
from duckdb_columns() where database_name = $database and not internal group by table_name
"""
_ROWS = " union all ".join("select '" + name + "' as table_name, count(*) as n from " + name for name in JOB_LOG)
_STATES = ("accepted", "rejected", "duplicates", "waiting", "superseded")


def build_findings(current: Path, again: Path) -> list[Finding]:
    """Tables of the current build that differ from the same build made again, in shape or in any row."""
    with new_build(Path(":memory:")) as connection:
        try:
            for path, name in ((current, "stands"), (again, "again")):
                connection.execute("attach '" + str(path).replace("'", "''") + "' as " + name + " (read_only)")
            wrong = _tables_that_differ(connection)
        except duckdb.Error as error:
            return [Finding("build_damaged", str(unreadable(current, error)), {"build": current.name, "tables": []})]
    if not wrong:
        return []
    what = f"differs from the same build made again, in {', '.join(wrong[:5])}"
    return [_build(current, "build_differs", what, wrong)]


def _build(current: Path, code: str, what: str, tables: list[str]) -> Finding:
    sentence = f"The build {current.name} {what}; {make_again(current)}"
    return Finding(code, sentence, {"build": current.name, "tables": tables})


def _tables_that_differ(connection: duckdb.DuckDBPyConnection) -> list[str]:
    shapes = [dict(connection.execute(_COLUMNS, {"database": name}).fetchall()) for name in ("stands", "again")]
    wrong = [name for name in shapes[0] | shapes[1] if shapes[0].get(name) != shapes[1].get(name)]
    return sorted(wrong + [name for name in shapes[1] if name not in wrong and not _same_rows(connection, name)])


def _same_rows(connection: duckdb.DuckDBPyConnection, name: str) -> bool:
    """Equal counts, and no row of one that the other lacks: then they hold the same rows as often."""
    quoted = '"' + name.replace('"', '""') + '"'
    stands, again = connection.table("stands." + quoted), connection.table("again." + quoted)
    if stands.count("*").fetchall() != again.count("*").fetchall():
        return False
    return not again.except_(stands).limit(1).fetchall()


def count_findings(current: Path, shadow: Book, batch_ids: list[str]) -> list[Finding]:
    """Whether each source's five states add up to its rows, the rows are those of the files, and the accepted stand."""
    ledger = pl.DataFrame(read_arrow(current, "ledger"))
    sources = pl.concat(read_checked(shadow.checked / batch / "sources.parquet") for batch in batch_ids)
    key = ["batch_id", "file", "table_name"]
    rows = sources.group_by(key).agg(pl.col("rows").sum().alias("rows_in_file"))
    both = rows.join(ledger.group_by(key).agg(pl.col("rows", *_STATES).sum()), on=key, how="full", coalesce=True)
    found = [
        _count(f"{row['file']} of batch {row['batch_id']}", row["table_name"], row)
        for row in both.iter_rows(named=True)
        if row["rows"] != row["rows_in_file"] or row["rows"] != sum(row[state] or 0 for state in _STATES)
    ]
    accepted = dict(ledger.group_by("table_name").agg(pl.col("accepted").sum()).iter_rows())
    for row in read_records(current, _ROWS):
        name, stand = row["table_name"], row["n"]
        if stand != accepted.get(name, 0):
            found.append(_count("The book", name, {"accepted": accepted.get(name, 0), "rows_in_table": stand}))
    return found


def _count(what: str, table: str, facts: dict[str, object]) -> Finding:
    sentence = f"{what}: the rows of {table} do not add up in the ledger; `sludgebook rebuild` makes the build again."
    return Finding("counts_do_not_add_up", sentence, {"table": table, **facts})
