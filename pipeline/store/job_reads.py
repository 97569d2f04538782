"""One job of a build: found by what a person types, its rows in any table."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType

import pandas as pd

from pipeline.contract.findings import BadInput
from pipeline.store.book import read, read_records

_JOBS_NAMED = "select firm_id, job_id from jobs where job_id = $job_id and ($firm_id is null or firm_id = $firm_id)"

OF_JOB = MappingProxyType(
    {
        "jobs": "select * from jobs where firm_id = $firm_id and job_id = $job_id",
        "emitters": "select * from emitters where firm_id = $firm_id and job_id = $job_id order by emitter_no",
        "readings": "select * from readings where firm_id = $firm_id and job_id = $job_id order by read_at",
        "callbacks": "select * from callbacks where firm_id = $firm_id and job_id = $job_id"
        " order by called_back_on, cause",
        "ftr_emitter": "select * from ftr_emitter where firm_id = $firm_id and job_id = $job_id order by emitter_no",
        "ftr_volume": "select * from ftr_volume where firm_id = $firm_id and job_id = $job_id",
        "ftr_quote": "select * from ftr_quote where firm_id = $firm_id and job_id = $job_id",
        "ftr_heat": "select * from ftr_heat where firm_id = $firm_id and job_id = $job_id",
        "ftr_outcome": "select * from ftr_outcome where firm_id = $firm_id and job_id = $job_id",
        "ftr_callback": "select * from ftr_callback where firm_id = $firm_id and job_id = $job_id",
        "ftr_job_day": "select * from ftr_job_day where firm_id = $firm_id and job_id = $job_id order by day_no",
        "ftr_catch_curve": "select * from ftr_catch_curve where firm_id = $firm_id and job_id = $job_id"
        " order by minutes_since_start, caught_at, catch_no",
        "ftr_emitter_curve": "select * from ftr_emitter_curve where firm_id = $firm_id and job_id = $job_id"
        " order by emitter_no, focus_minutes, catch_no",
    }
)
"""Table → the query for the rows of one job, in their natural order."""


def rows_of_job(build: Path, table: str, firm_id: str, job_id: str) -> pd.DataFrame:
    """The rows of one job in one of the tables of `OF_JOB`."""
    return read(build, OF_JOB[table], firm_id=firm_id, job_id=job_id)


def find_job(build: Path, name: str) -> tuple[str, str]:
    """(firm_id, job_id) of `JOB` or `FIRM/JOB`; BadInput when there is none, or when firms share the name."""
    firm, _, job = name.rpartition("/")
    found = read_records(build, _JOBS_NAMED, job_id=job, firm_id=firm or None)
    if not found:
        found = read_records(build, _JOBS_NAMED, job_id=name, firm_id=None)
    if not found:
        raise BadInput(f"Job {name!r} is not in the book; `sludgebook export jobs OUT.csv` lists the jobs.")
    if len(found) > 1:
        names = ", ".join(f"{row['firm_id']}/{row['job_id']}" for row in found[:5])
        raise BadInput(f"{len(found)} firms have a job {name!r}; name one of {names}.")
    return found[0]["firm_id"], found[0]["job_id"]
