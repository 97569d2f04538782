"""Every finished job again, as `watch` would have told it then, with what then happened: at shares of its flush, or
every so many minutes by the clock, as a crew would ask, which knows no shares of an end that has not come.

No job is told by what was learnt from itself or from later jobs: the book is cut into blocks by time, and a block is
told by what was learnt from the jobs before it. The jobs before the first cut are told without past jobs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from models.catch.records.flush_clock import clock_at, minutes_at
from models.catch.records.job import JobCatch
from models.catch.records.watch_result import Watch
from models.catch.stopping.stopping_regression import clock_moments
from models.catch.stopping.train_stopping import Learnt, learn
from models.catch.watch import as_json, watch
from models.quantiles import Quantiles
from models.refusals import Refusal
from pipeline.contract.findings import BadInput
from pipeline.contract.units import G_PER_KG

ORIGINS = (0.1, 0.25, 0.5, 0.75)
LEAST_EVERY, MOST_EVERY = 1.0, 240.0
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Replayed:
    """One job at one moment, a share of its flush: the watch of that moment, and the kilograms (dry magnetite, as
    logged) and flush minutes that followed. `learnt_from` jobs stood behind it, 0: none; `place` is its place in time.
    """

    place: int
    share: float
    seen: Watch
    kind: str | None
    learnt_from: int
    then_kg: float
    then_minutes: float

    def as_json(self) -> dict[str, Any]:
        """The watch as JSON; `at` is the share of the flush and `moment` its clock time, `then` what followed,
        `within_80` whether it lay in the 80 % range (null: none was told)."""
        told = as_json(self.seen)
        return {
            **told,
            "job_id": self.seen.job_id,
            "at": self.share,
            "moment": told["at"],
            "then": {"remaining_kg": self.then_kg, "minutes": self.then_minutes},
            "within_80": {
                "remaining_kg": within_80(self.seen.remaining_kg, self.then_kg),
                "minutes": within_80(self.seen.minutes_left, self.then_minutes),
            },
            "learnt_from_jobs": self.learnt_from,
        }


def within_80(told: Quantiles | None, then: float) -> bool | None:
    """Whether what followed lay in the 80 % range; None where none was told."""
    return None if told is None else bool(told.p10 <= then <= told.p90)


def in_time(jobs: Sequence[JobCatch]) -> list[JobCatch]:
    """Finished jobs whose minutes are known, in order of their start."""
    finished = [job for job in jobs if job.is_finished and job.knows_minutes]
    return sorted(finished, key=lambda job: (job.started_at, job.firm_id, job.job_id))


def blocks(count: int) -> list[tuple[int, int]]:
    """Places (first, end) of the blocks of so many jobs; the first block has nothing before it."""
    marks = [0, *(round(origin * count) for origin in ORIGINS), count]
    return [(first, end) for first, end in pairwise(marks) if end > first]


def checked_shares(shares: Sequence[float]) -> tuple[float, ...]:
    """The shares in order; BadInput where one does not lie between 0 and 1."""
    bad = [share for share in shares if not 0.0 < share < 1.0]
    if bad or not shares:
        raise BadInput("Shares of the flush lie between 0 and 1, such as 0.25,0.5,0.75.")
    return tuple(sorted(set(shares)))


def replay(jobs: Sequence[JobCatch], shares: Sequence[float], progress: Progress | None = None) -> Iterator[Replayed]:
    """All finished jobs of `jobs`, in order of time, each at every share of its flush."""
    wanted = checked_shares(shares)
    return _replayed(jobs, lambda end: [(share * end, share) for share in wanted], progress)


def replay_by_clock(jobs: Sequence[JobCatch], every: float, progress: Progress | None = None) -> Iterator[Replayed]:
    """All finished jobs of `jobs`, in order of time, each every so many flush minutes until it ended."""
    if not LEAST_EVERY <= every <= MOST_EVERY:
        raise BadInput(f"Minutes between two forecasts lie between {LEAST_EVERY:g} and {MOST_EVERY:g}, such as 20.")
    return _replayed(jobs, lambda end: [(at, at / end) for at in clock_moments(end, every)], progress)


def _replayed(
    jobs: Sequence[JobCatch], moments: Callable[[float], list[tuple[float, float]]], progress: Progress | None
) -> Iterator[Replayed]:
    """Each finished job at the moments that belong to its end, as flush minutes and shares."""
    ordered = in_time(jobs)
    for first, last in blocks(len(ordered)):
        learnt = learnt_before(ordered, first)
        for place in range(first, last):
            for minutes, share in moments(end_of(ordered[place])):
                yield replayed_at(ordered[place], place, minutes, share, learnt)
            if progress is not None:
                progress(place + 1, len(ordered))


def learnt_before(ordered: Sequence[JobCatch], first: int) -> Learnt | None:
    """What the jobs before a place teach; None where they are too few."""
    try:
        return learn(ordered[:first])
    except Refusal:
        return None


def replayed(job: JobCatch, place: int, share: float, learnt: Learnt | None) -> Replayed:
    """One finished job at one share of its flush."""
    return replayed_at(job, place, share * end_of(job), share, learnt)


def end_of(job: JobCatch) -> float:
    """Flush minute at which a finished job ended."""
    if job.ended_at is None:
        raise BadInput(f"Job {job.job_id!r} has not ended, so nothing can be held against its forecast.")
    return minutes_at(job.days, job.ended_at)


def replayed_at(job: JobCatch, place: int, minutes: float, share: float, learnt: Learnt | None) -> Replayed:
    """One finished job at one flush minute, which is this share of its flush."""
    end = end_of(job)
    assert job.ended_at is not None
    seen = watch(job, clock_at(job.days, job.ended_at, end, minutes), learnt, all_fits=False)
    later = [catch for catch in job.magnet_catches() if catch.minutes > seen.minutes + 1.0 / 60.0]
    told = 0 if learnt is None or seen.minutes_left is None else learnt.jobs
    return Replayed(
        place=place,
        share=share,
        seen=seen,
        kind=seen.kind,
        learnt_from=told,
        then_kg=sum(catch.dry_g for catch in later) / G_PER_KG,
        then_minutes=end - seen.minutes,
    )
