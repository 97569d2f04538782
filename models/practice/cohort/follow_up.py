"""Whose callbacks are known at all, and how long each job was watched.

A firm that has handed in no callbacks says nothing, which is not the same as none. A firm whose callbacks mostly lie
after the day to which it says that the jobs were followed does not say how long anybody watched: were those jobs alone
followed for longer, having come back would have made the follow-up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd

FIRST_DAYS = ("first_debris_day", "first_other_day", "first_unknown_day")
HAND_IN = "hand in a callbacks table with job_id, called_back_on and cause of every return visit"
LEFT_OUT = "the firm has handed in no callbacks"
CUT_SHORT = "most callbacks of the firm lie after the day to which its jobs were followed"
UNDATED = "whether it came back is on record, and no day"
MOST_LATER = 0.5
"""Share of a firm's jobs with a callback within the year that may have one after their end of follow-up."""
SAY_HOW_LONG = (
    "leave followed_until empty, and follow-up ends with the last day on which callbacks were handed in, or fill in "
    "the day on which you last asked"
)
_LATER = "has_later_callback_365"
_HORIZON_DAYS = 365


def is_silent(callback: pd.DataFrame) -> NDArray[np.bool_]:
    """Rows (n,) of a whole `ftr_callback` whose firm has no callback of any cause on record, on any job."""
    days = [name for name in FIRST_DAYS if name in callback]
    has_one = callback[days].notna().any(axis=1) | _later(callback)
    if "firm_id" in callback:
        has_one = has_one.groupby(callback["firm_id"]).transform("any")
    else:
        has_one = has_one | bool(has_one.any())
    return np.asarray(~has_one.to_numpy(dtype=bool))


def is_cut_short(callback: pd.DataFrame) -> NDArray[np.bool_]:
    """Rows (n,) of a whole `ftr_callback` of whose firm most jobs called back within the year were so after the end of
    their follow-up."""
    days = [name for name in FIRST_DAYS if name in callback]
    later = _later(callback)
    called = (callback[days].astype(float) <= _HORIZON_DAYS).any(axis=1) | later
    if "firm_id" in callback:
        both = [each.astype(float).groupby(callback["firm_id"]).transform("sum") for each in (later, called)]
    else:
        both = [each.astype(float) * 0 + each.sum() for each in (later, called)]
    return np.asarray((both[0] > MOST_LATER * both[1]).to_numpy(dtype=bool))


def _later(callback: pd.DataFrame) -> pd.Series:
    """Whether there is a callback that does not count, False in builds made earlier, which do not say."""
    if _LATER not in callback:
        return callback[FIRST_DAYS[0]].isna() & False
    return callback[_LATER].fillna(False).astype(bool)


def refusal(jobs: int) -> str:
    """What stands in place of a rate where no job's firm has handed in callbacks."""
    of = "this 1 job" if jobs == 1 else f"these {jobs:,} jobs"
    return f"No callbacks were handed in for {of}, and none on record is not the same as none: {HAND_IN}."


def partly(firms: int, jobs: int) -> str:
    """What is said where some firms of several have handed in none."""
    who = "1 firm has" if firms == 1 else f"{firms} firms have"
    what = "its 1 job is" if jobs == 1 else f"{'its' if firms == 1 else 'their'} {jobs:,} jobs are"
    return f"{who} handed in no callbacks, so {what} left out of every rate: {HAND_IN}."


def cut_short(jobs: int) -> str:
    """What is said where callbacks lie beyond the stated ends of follow-up."""
    of = "1 job" if jobs == 1 else f"{jobs:,} jobs"
    return f"{of} left out: {CUT_SHORT}, so nobody knows how long they were watched: {SAY_HOW_LONG}."


def undated(jobs: int, came_back: int) -> str:
    """What is said of jobs of which only yes or no is on record."""
    who = "1 job says only whether it" if jobs == 1 else f"{jobs:,} jobs say only whether they"
    return (
        f"{who} came back, and {came_back:,} did, on no day that is on record: without days "
        f"{'it counts' if jobs == 1 else 'they count'} in no rate; {HAND_IN}."
    )
