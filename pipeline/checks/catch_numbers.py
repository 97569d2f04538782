"""A weighing that came without a number gets one that its own row decides: handed in again it is the same weighing.

The number reads as a time: 25030411150 is 11:15 on 4 March 2025; its last digit says which trap, wet or dry. So a
row needs no other row, files may come in any order and in pieces, and weighings of one job stand by their time.
"""

from __future__ import annotations

import polars as pl

from pipeline.checks.row_rules import typed
from pipeline.contract import JOB_LOG

_MINUTE, _SECOND = "%y%m%d%H%M", "%y%m%d%H%M%S"
_DRY = "dry"


def number_by_time(frame: pl.DataFrame) -> pl.DataFrame:
    """Text cells of `catches` with `catch_no` filled in where it is empty and `caught_at` is a time."""
    table = JOB_LOG["catches"]
    at = typed(table.column("caught_at"))
    traps = table.column("trap").choices
    place = pl.col("trap").str.to_lowercase().replace_strict(traps, range(len(traps)), default=0, return_dtype=pl.Int64)
    digit = 2 * place + (pl.col("weighed").str.to_lowercase() == _DRY).fill_null(value=False).cast(pl.Int64)
    clock = pl.when(at.dt.second() == 0).then(at.dt.strftime(_MINUTE)).otherwise(at.dt.strftime(_SECOND))
    number = (clock.cast(pl.Int64) * 10 + digit).cast(pl.String)
    return frame.with_columns(pl.coalesce(pl.col("catch_no"), number))
