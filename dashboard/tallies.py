"""Small sums over frames of a build that pages show: the usual job, how full the records are, visits by month."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from models.quantiles import Quantiles
from models.refusals import NotEnoughData
from pipeline.contract import JOB_LOG

LEDGER_COLUMNS = {
    "batch_no": "Batch",
    "file": "File",
    "table_name": "Table",
    "rows": "Rows",
    "accepted": "Accepted",
    "rejected": "Rejected",
    "duplicates": "Already there",
    "waiting": "Waiting",
    "superseded": "Replaced later",
}


@dataclass(frozen=True, slots=True)
class UsualJob:
    """Quantiles over finished jobs of what they gave (kg, dry) and took (min); `jobs` have both."""

    magnetite_kg: Quantiles
    site_minutes: Quantiles
    jobs: int


def usual_of(jobs: pd.DataFrame) -> UsualJob:
    """What the jobs of a frame of `data.job_list` gave and took. NotEnoughData when none has both figures.

    Time on site is the flush where arrival and leaving were not written down.
    """
    site = jobs["site_minutes"].fillna(jobs["flush_minutes"])
    known = jobs["magnetite_kg"].notna() & site.notna()
    if not known.any():
        raise NotEnoughData(what="finished job with a weighing", needed=1, found=0)
    mass, time = jobs.loc[known, "magnetite_kg"], site[known]
    return UsualJob(Quantiles.from_sample(mass.to_numpy()), Quantiles.from_sample(time.to_numpy()), int(known.sum()))


def filled(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Share of rows in which each column of the job log is filled in, the emptiest first; keys left out.

    `tables` holds the core tables of a build by name.
    """
    rows = [
        {
            "Table": name,
            "Column": column.name,
            "Known": column.known_by,
            "Rows": len(tables[name]),
            "Filled in [%]": round(100 * float(tables[name][column.name].notna().mean()), 1),
        }
        for name, logged in JOB_LOG.items()
        for column in logged.columns
        if column.known_by != "key" and len(tables[name])
    ]
    return pd.DataFrame(rows).sort_values("Filled in [%]", ignore_index=True, kind="stable")


def visits_by_month(jobs: pd.DataFrame) -> pd.DataFrame:
    """Jobs by month of visit: columns month (first day), real, simulated; months without jobs are there."""
    months = pd.to_datetime(jobs["visit_date"]).dt.to_period("M")
    simulated = jobs["is_simulated"].fillna(False).astype(bool)
    every = pd.period_range(months.min(), months.max(), freq="M")
    split = {"real": ~simulated, "simulated": simulated}
    counts = {name: months[mask].value_counts().reindex(every, fill_value=0) for name, mask in split.items()}
    return pd.DataFrame({"month": every.to_timestamp(), **{name: c.to_numpy() for name, c in counts.items()}})


def ledger_in_words(ledger: pd.DataFrame) -> pd.DataFrame:
    """What became of the rows of each batch, file and table, the newest batch first."""
    rows = ledger.sort_values(["batch_no", "file", "table_name"], ascending=[False, True, True])
    return rows.drop(columns=["batch_id"]).rename(columns=LEDGER_COLUMNS)
