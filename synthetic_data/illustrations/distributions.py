"""What a simulated firm's jobs look like as a whole: a few small frames for pictures, truth included."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.contract.findings import BadInput
from pipeline.contract.job_log import CAUSES
from synthetic_data.chunk import RISK_DAYS, Chunk
from synthetic_data.crew.crew import ONE_AT_A_TIME
from synthetic_data.logbook.logbook import firm_ids, job_ids
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks

LOOKS = ("good", "middling", "bad")
"""Thirds of the jobs by how bad the system looked at survey."""


@dataclass(frozen=True, slots=True)
class FirmDistributions:
    """Frames about the jobs of one world.

    `jobs`: one row a job, with `firm_id`, `job_id`, `looks` (one of `LOOKS`), `emitters`, `before_kg`, `caught_kg`
    (dry magnetite, weighed from all traps), `left_kg`, `flush_minutes`, `days_on_site`, `debris_risk_365` (true).
    `practices`: `practice`, `looks`, `jobs`, `share` of them in which it was done.
    `callbacks`: `cause`, `is_debris`, `jobs` called back first for it within `RISK_DAYS`, `followed` so long, `share`.
    """

    scenario: str
    seed: int
    jobs: pl.DataFrame
    practices: pl.DataFrame
    callbacks: pl.DataFrame


def firm_distributions(scenario: str, seed: int, jobs: int) -> FirmDistributions:
    """Simulate so many jobs of a world to the last callback. BadInput where there is no such scenario, or no job."""
    if scenario not in SCENARIOS:
        raise BadInput(f"There is no scenario {scenario!r}; choose one of {', '.join(SCENARIOS)}.")
    if jobs < 1:
        raise BadInput(f"At least one job is needed; {jobs} were asked for.")
    frames, done, calls = [], [], []
    for chunk in simulate_chunks(SCENARIOS[scenario], jobs=jobs, seed=seed):
        frames.append(_jobs(chunk))
        done.append(_done(chunk))
        calls.append(_first_callbacks(chunk))
    rows = pl.concat(frames)
    order = rows["looks_bad"].rank("ordinal")
    third = ((order - 1) * len(LOOKS) // rows.height).cast(pl.Int64)
    looks = third.replace_strict(dict(enumerate(LOOKS)), return_dtype=pl.String).alias("looks")
    return FirmDistributions(
        scenario,
        seed,
        rows.with_columns(looks).drop("looks_bad"),
        _practices(pl.concat(done), looks),
        _shares(pl.concat(calls)),
    )


def _jobs(chunk: Chunk) -> pl.DataFrame:
    end = chunk.flush.end
    return pl.DataFrame(
        {
            "firm_id": firm_ids(chunk),
            "job_id": job_ids(chunk),
            "looks_bad": chunk.survey.looks_bad,
            "emitters": chunk.houses.emitter_count,
            "before_kg": chunk.fouling.magnetite_kg,
            "caught_kg": (end.caught + end.strainer_caught).sum(axis=1),
            "left_kg": (end.loose + end.consolidated + end.carried).sum(axis=1),
            "flush_minutes": _minutes(chunk),
            "days_on_site": end.day + 1,
            "debris_risk_365": chunk.outcome.risk,
        }
    )


def _minutes(chunk: Chunk) -> np.ndarray:
    """Minutes of flushing, nights left out: `offset_min` holds what the wall clock has run ahead of them."""
    return np.asarray(chunk.flush.end_min - chunk.flush.end.offset_min)


def _done(chunk: Chunk) -> pl.DataFrame:
    """Which of some practices were done, one row a job."""
    p = chunk.plans
    had = chunk.fouling.filter
    return pl.DataFrame(
        {
            "chemical in days before": p.predose_days > 0,
            "heated": p.heat_source > 0,
            "one emitter at a time": p.isolation == ONE_AT_A_TIME,
            "agitated": p.agitation > 0,
            "flow reversed": p.reversed,
            "inhibitor left in": p.inhibitor_dosed,
            "filter newly fitted": (p.filter_fitted > 0) & ~had,
        }
    )


def _practices(done: pl.DataFrame, looks: pl.Series) -> pl.DataFrame:
    long = done.with_columns(looks).unpivot(index="looks", variable_name="practice", value_name="done")
    grouped = long.group_by("practice", "looks").agg(jobs=pl.len(), share=pl.col("done").mean())
    order = {name: at for at, name in enumerate((*done.columns, *LOOKS))}
    return grouped.select("practice", "looks", "jobs", "share").sort(
        pl.col("practice").replace_strict(order), pl.col("looks").replace_strict(order)
    )


def _first_callbacks(chunk: Chunk) -> pl.DataFrame:
    """One row a job that was followed for `RISK_DAYS`: cause of its first callback within them, if any."""
    c = chunk.callbacks
    followed = chunk.followed_days >= RISK_DAYS
    within = c.days <= RISK_DAYS
    order = np.lexsort((c.days[within], c.row[within]))
    row, first = np.unique(c.row[within][order], return_index=True)
    cause, debris = np.full(chunk.jobs, -1), np.zeros(chunk.jobs, dtype=bool)
    cause[row], debris[row] = c.cause[within][order][first], c.is_debris[within][order][first]
    return pl.DataFrame({"cause": cause[followed], "is_debris": debris[followed]})


def _shares(first: pl.DataFrame) -> pl.DataFrame:
    """Jobs by the cause of their first callback, the most frequent first."""
    names = dict(enumerate(CAUSES))
    called = first.filter(pl.col("cause") >= 0)
    counted = called.group_by("cause", "is_debris").agg(jobs=pl.len())
    return counted.select(
        pl.col("cause").replace_strict(names, return_dtype=pl.String),
        "is_debris",
        pl.col("jobs").cast(pl.Int64),
        followed=pl.lit(first.height),
        share=pl.col("jobs") / max(first.height, 1),
    ).sort("is_debris", "jobs", "cause", descending=[True, True, False])
