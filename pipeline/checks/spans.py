"""Spans: for each file, table and job, how many rows there are, from when to when, and whether keys repeat.

Most jobs come once, in one file, with their rows in order. Their spans tell all that the build must
know, so that only jobs which come twice, or whose keys repeat, are compared row by row.
"""

from __future__ import annotations

import polars as pl

from pipeline.contract.columns import Table, row_key
from pipeline.readers.files import LINE

MOMENTS = {"catches": "caught_at", "readings": "read_at", "callbacks": "called_back_on"}
"""Table → the moment that must lie within the visit."""

SCHEMA: dict[str, pl.DataType] = {
    "source_no": pl.Int64(),
    "table_name": pl.String(),
    "firm_id": pl.String(),
    "job_id": pl.String(),
    "rows": pl.Int64(),
    "first_at": pl.Datetime("us"),
    "last_at": pl.Datetime("us"),
    "is_tidy": pl.Boolean(),
}


def runs_of(table: Table, rows: pl.DataFrame) -> pl.DataFrame:
    """One row a run of lines with one job: rows, first and last moment, first and last key, keys in order."""
    same_job = (pl.col("job_id") == pl.col("job_id").shift()) & (pl.col("firm_id") == pl.col("firm_id").shift())
    marked = rows.select(
        "firm_id",
        "job_id",
        LINE,
        _key(table).alias("key"),
        _moment(table).alias("moment"),
        same_job.fill_null(value=False).alias("same"),
    )
    marked = marked.with_columns(
        (~pl.col("same")).cum_sum().set_sorted().alias("run"),
        (~pl.col("same") | (pl.col("key") > pl.col("key").shift())).alias("in_order"),
    )
    return marked.group_by("run", maintain_order=True).agg(
        pl.col("firm_id", "job_id", LINE).first(),
        pl.len().cast(pl.Int64).alias("rows"),
        pl.col("moment").min().alias("first_at"),
        pl.col("moment").max().alias("last_at"),
        pl.col("key").first().alias("first_key"),
        pl.col("key").last().alias("last_key"),
        pl.col("in_order").all(),
    )


def _key(table: Table) -> pl.Expr:
    """What orders the rows of a job; where several columns name a row, their texts one after the other."""
    names = row_key(table)
    return pl.col(names[0]) if len(names) == 1 else pl.concat_str(pl.col(n).cast(pl.String) for n in names)


def _moment(table: Table) -> pl.Expr:
    name = MOMENTS.get(table.name)
    return pl.col(name).cast(pl.Datetime("us")) if name else pl.lit(None, pl.Datetime("us"))


def spans_of(table: Table, source_no: int, runs: list[pl.DataFrame]) -> pl.DataFrame:
    """One row a job of one file: its runs put together. Tidy means that no key can stand twice."""
    if not runs:
        return pl.DataFrame(schema=SCHEMA)
    every = pl.concat(runs, rechunk=True).sort(LINE)
    follows = pl.col("first_key") > pl.col("last_key").shift().over("firm_id", "job_id")
    every = every.with_columns((pl.col("in_order") & follows.fill_null(value=True)).alias("in_order"))
    spans = every.group_by("firm_id", "job_id", maintain_order=True).agg(
        pl.col("rows").sum(),
        pl.col("first_at").min(),
        pl.col("last_at").max(),
        pl.col("in_order").all().alias("is_tidy"),
    )
    marks = pl.lit(source_no, pl.Int64).alias("source_no"), pl.lit(table.name).alias("table_name")
    return spans.with_columns(marks).select(SCHEMA.keys()).cast(SCHEMA)  # type: ignore[arg-type]
