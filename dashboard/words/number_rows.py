"""Rows of the files that hold every number: what a number is of, its unit, its interval and what it means."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import pandas as pd

SHARE, COUNT = "share of jobs", "count"


class NumberRow(NamedTuple):
    """One number of a `subject` (a part of the result), told of one `item` in it; without `low` and `high` where it
    has no interval, without `value` where it was refused."""

    subject: str
    item: str
    quantity: str
    value: float | None
    unit: str
    meaning: str
    low: float | None = None
    high: float | None = None


def number_table(rows: Iterable[NumberRow], columns: tuple[str, ...]) -> pd.DataFrame:
    """The rows as a table; `columns` name subject, item, quantity, value, low, high, unit and meaning."""
    cells = [(r.subject, r.item, r.quantity, r.value, r.low, r.high, r.unit, r.meaning) for r in rows]
    return pd.DataFrame(cells, columns=list(columns))
