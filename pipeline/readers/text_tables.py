"""What the readers of every kind of file hand over: text cells with their line, and what was broken."""

from __future__ import annotations

from dataclasses import dataclass, field

import polars as pl

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import Finding

LINE = "line"
LEFT_OUT = {LINE: pl.Int64, "column_name": pl.String, "reason": pl.String}
"""What is told of a cell from which something was left out."""


@dataclass(frozen=True, slots=True)
class BrokenRow:
    """A record that is broken as text: its line, the text, and what is wrong."""

    line: int
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class TextTable:
    """One table of one file, untouched: columns as text plus `line`, and the broken records.

    `findings` say what the reader decided about the file as a whole, such as its encoding; `left_out`
    names the cells from which something private was left out.
    """

    frame: pl.DataFrame
    broken: tuple[BrokenRow, ...] = ()
    findings: tuple[Finding, ...] = ()
    left_out: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=LEFT_OUT))

    @property
    def rows(self) -> int:
        """Records in the file, the broken ones included, the heading not."""
        return self.frame.height + len(self.broken)

    @property
    def headings(self) -> tuple[str, ...]:
        """Headings as they came, trimmed and in small letters."""
        return tuple(name for name in self.frame.columns if name != LINE)


def table_name(stem: str) -> str | None:
    """The job-log table that a file's or sheet's name stands for, or None."""
    name = stem.strip().lower().replace(" ", "_").replace("-", "_")
    return name if name in JOB_LOG else None


def without_blank_rows(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame without the records in which every cell is empty."""
    cells = [name for name in frame.columns if name != LINE]
    return frame.filter(~pl.all_horizontal([pl.col(name).is_null() for name in cells])) if cells else frame
