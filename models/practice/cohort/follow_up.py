"""Whose callbacks are known at all: a firm that has handed in none says nothing, which is not the same as none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd

FIRST_DAYS = ("first_debris_day", "first_other_day", "first_unknown_day")
HAND_IN = "hand in a callbacks table with job_id, called_back_on and cause of every return visit"
LEFT_OUT = "the firm has handed in no callbacks"


def is_silent(callback: pd.DataFrame) -> NDArray[np.bool_]:
    """Rows (n,) of a whole `ftr_callback` whose firm has no callback of any cause on record, on any job."""
    days = [name for name in FIRST_DAYS if name in callback]
    has_one = callback[days].notna().any(axis=1)
    if "firm_id" in callback:
        has_one = has_one.groupby(callback["firm_id"]).transform("any")
    else:
        has_one = has_one | bool(has_one.any())
    return np.asarray(~has_one.to_numpy(dtype=bool))


def refusal(jobs: int) -> str:
    """What stands in place of a rate where no job's firm has handed in callbacks."""
    of = "this 1 job" if jobs == 1 else f"these {jobs:,} jobs"
    return f"No callbacks were handed in for {of}, and none on record is not the same as none: {HAND_IN}."


def partly(firms: int, jobs: int) -> str:
    """What is said where some firms of several have handed in none."""
    who = "1 firm has" if firms == 1 else f"{firms} firms have"
    what = "its 1 job is" if jobs == 1 else f"{'its' if firms == 1 else 'their'} {jobs:,} jobs are"
    return f"{who} handed in no callbacks, so {what} left out of every rate: {HAND_IN}."
