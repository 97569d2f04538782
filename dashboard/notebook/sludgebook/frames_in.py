"""Frames as they are handed in: pandas or polars, with the columns that an answer cannot do without."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline.contract.findings import BadInput

KEYS = ("firm_id", "job_id")
"""What names a job in every table of a book."""


def as_frame(table: Any, name: str, needed: tuple[str, ...] = KEYS) -> pd.DataFrame:
    """The table as a pandas frame. BadInput names the columns it lacks; TypeError where it is no frame at all.

    >>> as_frame(pd.DataFrame({"job_id": ["a"]}), "features")
    Traceback (most recent call last):
    pipeline.contract.findings.BadInput: The frame `features` lacks firm_id; each row must name its firm and job.
    """
    frame = table if isinstance(table, pd.DataFrame) else _converted(table, name)
    lacking = [column for column in needed if column not in frame.columns]
    if lacking:
        rule = "each row must name its firm and job" if set(lacking) <= set(KEYS) else "the data dictionary lists them"
        raise BadInput(f"The frame `{name}` lacks {', '.join(lacking)}; {rule}.")
    return frame


def _converted(table: Any, name: str) -> pd.DataFrame:
    """A frame of another library (polars, pyarrow) as one of pandas."""
    frame = table.to_pandas() if hasattr(table, "to_pandas") else None
    if not isinstance(frame, pd.DataFrame):
        raise TypeError(f"{name} must be a pandas or polars frame; it is {type(table).__name__}.")
    return frame
