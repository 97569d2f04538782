"""Finished jobs told again as a watch would have told them then, by earlier jobs only, and how good that was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from dashboard.services.build_tables import Read, past_job_frames
from dashboard.services.progress import Bars, Show, no_bars
from dashboard.services.watching import hourly_costs

if TYPE_CHECKING:
    from models.catch.records.job import JobCatch
    from models.catch.replay import Replayed
    from models.catch.replay_scores import ReplayScore
    from pipeline.contract.firm import Firm


def past_jobs(read: Read, firm: Firm) -> list[JobCatch]:
    """Every job of a build, an hour of its crew priced by the firm's rate."""
    from models.catch.records.job_frames import job_catches

    frames = past_job_frames(read)
    jobs = job_catches(frames, currency=firm.currency)
    return [replace(job, hourly_cost=c) for job, c in zip(jobs, hourly_costs(frames.jobs, firm), strict=True)]


def replay(
    jobs: list[JobCatch], shares: Sequence[float], show: Show | None = None, *, every: float | None = None
) -> Iterator[Replayed]:
    """Every finished job's forecast at shares of its flush, or `every` so many minutes, and what followed."""
    from models.catch.replay import replay as replay_jobs
    from models.catch.replay import replay_by_clock

    if every is not None:
        return replay_by_clock(jobs, every, show)
    return replay_jobs(jobs, list(shares), show)


def scores(told: list[Replayed], jobs: list[JobCatch], read: Read, bars: Bars = no_bars) -> list[ReplayScore]:
    """How far off the forecasts were, beside the naive curve and the quote of the time."""
    from models.catch.replay_scores import quote_quantiles
    from models.catch.replay_scores import scores as score

    with bars("Learning the quotes of the time") as show:
        steps = iter(range(1, 100))
        quotes = quote_quantiles(jobs, read("ftr_quote"), read("ftr_outcome"), lambda: show(next(steps), 5))
    return score(told, jobs, quotes)
