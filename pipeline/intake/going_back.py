"""Going back to an earlier file: whether files that are in the book already would change anything now.

They would where a later load brought other content for one of their rows, or where a day that lay ahead when they
came has passed since. Then they are a correction and are received again; otherwise handing them in changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Table
from pipeline.contract.findings import Finding
from pipeline.readers.text_tables import LINE
from pipeline.store.book import Book, read_arrow
from pipeline.store.checked_files import read_checked, scan_checked
from pipeline.store.received import Batch

TIE = ["firm_id", "job_id"]
_PLACE = ["batch_no", "source_no", LINE]
_AHEAD = "the day of loading"
"""How the reasons of rows end that were rejected for lying in the future."""


@dataclass(frozen=True, slots=True)
class Replaced:
    """What handing a batch in again would bring back: rows replaced since, rows that lay in the future then."""

    rows: int
    rows_due: int

    def as_finding(self) -> Finding:
        """Why files that are in the book already were received again."""
        said = []
        if self.rows:
            what = "1 of their rows was" if self.rows == 1 else f"{self.rows:,} of their rows were"
            said.append(f"{what} replaced by later loads since")
        if self.rows_due:
            what = "1 row lay" if self.rows_due == 1 else f"{self.rows_due:,} rows lay"
            said.append(f"{what} ahead of the day of loading then, and no longer")
        sentence = (
            f"These files were in the book already, but {'; '.join(said)}. They were received again as a correction, "
            "and their rows count as they stand here."
        )
        return Finding("received_again", sentence, {"rows": self.rows, "rows_due": self.rows_due})


def replaced_since(book: Book, batch: Batch, everything: list[Batch], today: date) -> Replaced:
    """How many rows of the batch count otherwise today than it brought them.

    The book is checked and built as it stands. Only jobs that a later batch touches are read.
    """
    later = [each for each in everything if each.number > batch.number]
    rows = sum(_replaced(book, batch, later, table) for table in JOB_LOG.values()) if later else 0
    return Replaced(rows, _due(book, batch, today) if batch.received_at.date() < today else 0)


def _due(book: Book, batch: Batch, today: date) -> int:
    """Rows that were rejected for lying ahead of the day of loading, and would not be today."""
    faults = read_checked(book.checked / batch.batch_id / "rejects.parquet")
    day = pl.col("value").str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
    ahead = faults.filter(pl.col("reason").str.ends_with(_AHEAD) & (day <= today))
    return ahead.select("source_no", LINE).n_unique() if ahead.height else 0


def _replaced(book: Book, batch: Batch, later: list[Batch], table: Table) -> int:
    """Keys of the batch whose newest version since has other content."""
    folders = [book.checked / each.batch_id for each in later]
    touched = pl.concat(_jobs(folder, table) for folder in folders)
    jobs = _jobs(book.checked / batch.batch_id, table).join(touched, on=TIE, how="semi")
    if not jobs.height:
        return 0
    outside = pl.DataFrame(read_arrow(book.current(), "visit_rejects")).select(_PLACE)
    own = _newest([book.checked / batch.batch_id], table, jobs, outside)
    now = _newest(folders, table, jobs, outside)
    both = own.join(now, on=list(table.key), suffix=":now")
    others = [name for name in table.names if name not in table.key]
    differs = [pl.col(name).ne_missing(pl.col(f"{name}:now")) for name in others]
    return both.filter(pl.any_horizontal(differs)).height


def _jobs(folder: Path, table: Table) -> pl.DataFrame:
    spans = read_checked(folder / "spans.parquet")
    return spans.filter(pl.col("table_name") == table.name).select(TIE).unique()


def _newest(folders: list[Path], table: Table, jobs: pl.DataFrame, outside: pl.DataFrame) -> pl.DataFrame:
    """The last version of each row of some jobs in some batches, rejected rows left out."""
    rows = scan_checked(f / table.name for f in folders)
    faults = pl.concat(read_checked(f / "rejects.parquet").select(_PLACE) for f in folders)
    kept = rows.join(jobs.lazy(), on=TIE, how="semi").collect()
    kept = kept.join(faults, on=_PLACE, how="anti").join(outside, on=_PLACE, how="anti")
    return kept.sort(_PLACE).unique(list(table.key), keep="last", maintain_order=True)
