"""Days and moments that a spreadsheet holds as plain numbers: days since the last of 1899, or since 1904."""

from __future__ import annotations

import polars as pl

from pipeline.contract import JOB_LOG
from pipeline.readers.text_tables import TextTable

FIRST_SERIAL = 29_221.0
"""1980-01-01 counted from 1899-12-30, the day that makes every later day right in a spreadsheet."""

LAST_SERIAL = 73_051.0
"""2100-01-01, counted the same way; a number outside is no day that a record can hold."""

DAYS_1904 = 1462
"""Days between the two starting days, 1899-12-30 and 1904-01-01."""

_NUMBER = r"^\d{5}(?:\.\d+)?$"
_SECONDS_PER_DAY = 86_400.0
_UNIX_DAY = 25_569
"""1970-01-01 counted from 1899-12-30."""


def serial_text(cell: pl.Expr, *, whole_days: bool, from_1904: bool) -> pl.Expr:
    """Numbers that stand for a day between 1980 and 2100 → ISO text; null for every other cell.

    Moments are rounded to the second, because a spreadsheet keeps them as a fraction of a day.
    """
    days = pl.when(cell.str.contains(_NUMBER)).then(cell).cast(pl.Float64, strict=False)
    days = days + (DAYS_1904 if from_1904 else 0)
    days = pl.when(days.is_between(FIRST_SERIAL, LAST_SERIAL, closed="left")).then(days)
    seconds = ((days - _UNIX_DAY) * _SECONDS_PER_DAY).round(0).cast(pl.Int64)
    moment = pl.from_epoch(seconds, time_unit="s")
    return moment.dt.to_string("%Y-%m-%d" if whole_days else "%Y-%m-%dT%H:%M:%S")


def with_serial_dates(text: TextTable, table: str | None, *, from_1904: bool) -> TextTable:
    """A sheet that stands for a job-log table: numbers in its date and time columns as the days they mean."""
    if table is None:
        return text
    columns = [c for c in JOB_LOG[table].columns if c.kind in ("date", "time") and c.name in text.frame.columns]
    frame = text.frame.with_columns(
        pl.coalesce(
            serial_text(pl.col(column.name), whole_days=column.kind == "date", from_1904=from_1904), pl.col(column.name)
        ).alias(column.name)
        for column in columns
    )
    return TextTable(frame, text.broken, text.findings)
