"""By what the debris curves of many jobs may be compared: size, age, system, and what the crew did.

A comparison shows what came, not what a practice does: bad systems get the most effort.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import pandas as pd

from dashboard.filters import SIZES
from dashboard.words import wording
from pipeline.contract import JOB_LOG

Bands = Mapping[str, tuple[int, int]]
AGES: Bands = {"under 15 years": (0, 14), "15 to 29 years": (15, 29), "30 years and more": (30, 200)}
EMITTERS_APART = 3
PREDOSES: Bands = {"none on record": (0, 0), "1 to 4 days": (1, 4), "5 days and more": (5, 90)}


@dataclass(frozen=True, slots=True)
class Grouping:
    """`groups` in the order of drawing; `of` gives each job of a `data.job_list` its group, missing where not known.

    `is_practice` where it is something the crew did.
    """

    groups: tuple[str, ...]
    of: Callable[[pd.DataFrame], pd.Series]
    is_practice: bool = False


def _bands(values: pd.Series, bands: Bands) -> pd.Series:
    found = pd.Series(None, index=values.index, dtype=object)
    for name, (low, high) in bands.items():
        found[values.between(low, high).fillna(False).astype(bool)] = name
    return found


def _size(jobs: pd.DataFrame) -> pd.Series:
    return _bands(jobs["emitter_count"], {f"{name} emitters": ends for name, ends in SIZES.items()})


def _age(jobs: pd.DataFrame) -> pd.Series:
    return _bands(pd.to_datetime(jobs["visit_date"]).dt.year - jobs["install_year"], AGES)


def _predose(jobs: pd.DataFrame) -> pd.Series:
    days = (pd.to_datetime(jobs["visit_date"]) - pd.to_datetime(jobs["predosed_on"])).dt.days
    return _bands(days.fillna(0), PREDOSES)


def _words(column: str, *, is_practice: bool) -> Grouping:
    """A column of words, its choices in the order of the job log."""
    choices = tuple(wording.plain(choice) for choice in JOB_LOG["jobs"].column(column).choices)
    known = {choice: wording.plain(choice) for choice in JOB_LOG["jobs"].column(column).choices}
    return Grouping(choices, lambda jobs: jobs[column].map(known).astype(object), is_practice)


GROUPINGS: Mapping[str, Grouping] = MappingProxyType(
    {
        "Size": Grouping(tuple(f"{name} emitters" for name in SIZES), _size),
        "Age": Grouping(tuple(AGES), _age),
        "System": _words("system_type", is_practice=False),
        "Isolation": _words("isolation", is_practice=True),
        "Heat": _words("heat_source", is_practice=True),
        "Pre-dose": Grouping(tuple(PREDOSES), _predose, is_practice=True),
        "Agitation": _words("agitation", is_practice=True),
        "Connection": _words("connection", is_practice=True),
    }
)


def similar_mask(jobs: pd.DataFrame, job: pd.Series) -> pd.Series:
    """Which of `jobs` are like `job`: same system type, emitter count within 3, and not the job itself.

    Needs `firm_id`, `job_id`, `system_type`, `emitter_count`. A job without a count is like any other
    of its type.
    """
    itself = (jobs["firm_id"] == job["firm_id"]) & (jobs["job_id"] == job["job_id"])
    alike = jobs["system_type"] == job["system_type"]
    if job["emitter_count"] == job["emitter_count"]:
        alike &= (jobs["emitter_count"] - job["emitter_count"]).abs() <= EMITTERS_APART
    mask: pd.Series = alike & ~itself
    return mask
