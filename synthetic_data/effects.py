"""True effects of practices: the same world, the same noise, with each practice and without it.

`risks` gives both potential risks of every job; `Effects` adds them up over all jobs, over those that were
treated, and over those in which either way might well have been chosen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import polars as pl

from synthetic_data.chunk import Chunk, Outcome, Setting, outcome, plan
from synthetic_data.crew.practices import CONTRASTS, PracticePair, does, eligible, with_practice
from synthetic_data.house.house import Floats
from synthetic_data.logbook.logbook import firm_ids, job_ids

REDRAWS = 40
"""Plans drawn again for each job, to count how often its crew would choose either way."""
OVERLAP = 0.1
"""Jobs count as overlapping where the chance of each way, given that it is one of the two, is at least this."""


def potential(chunk: Chunk, contrast: PracticePair) -> tuple[Outcome, Outcome]:
    """The two outcomes of a chunk's world: with the practice in every job, and without it in any."""
    both = (
        with_practice(chunk.plans, contrast.column, value, chunk.houses, chunk.staff)
        for value in (contrast.with_value, contrast.without_value)
    )
    kept = None if contrast.needs_flush else chunk.outcome
    first, second = (outcome(chunk.setting, plans, kept) for plans in both)
    return first, second


def propensities(setting: Setting, contrasts: tuple[PracticePair, ...]) -> list[Floats]:
    """Chance that a crew does the one, given that it does the one or the other, by contrast; from plans redrawn."""
    rng, jobs = setting.random("propensity"), len(setting.engineer)
    seen = np.zeros((len(contrasts), 2, jobs))
    for _ in range(REDRAWS):
        again = plan(setting, rng)
        for at, contrast in enumerate(contrasts):
            for way, value in enumerate((contrast.with_value, contrast.without_value)):
                seen[at, way] += does(again, contrast.column, value)
    either = seen.sum(axis=1)
    return [np.asarray(np.where(n > 0, w / np.maximum(n, 1), np.nan)) for n, w in zip(either, seen[:, 0], strict=True)]


def risks(
    chunk: Chunk, contrasts: tuple[PracticePair, ...] = CONTRASTS, progress: Callable[[], None] | None = None
) -> pl.DataFrame:
    """One row a job and contrast: both potential risks of a debris callback within 365 days, what was done, and
    the true chance of it. `progress` is called after each contrast."""
    setting, frames = chunk.setting, []
    for contrast, chance in zip(contrasts, propensities(setting, contrasts), strict=True):
        first, second = potential(chunk, contrast)
        did = does(chunk.plans, contrast.column, contrast.with_value)
        other = does(chunk.plans, contrast.column, contrast.without_value)
        frames.append(
            pl.DataFrame(
                {
                    "firm_id": firm_ids(chunk),
                    "job_id": job_ids(chunk),
                    "contrast": contrast.name,
                    "is_open": eligible(contrast, setting.fouling.filter),
                    "done": pl.select(pl.when(pl.Series(did | other)).then(pl.Series(did))).to_series(),
                    "chance": pl.Series(chance).fill_nan(None),
                    "risk": chunk.outcome.risk,
                    "risk_with": first.risk,
                    "risk_without": second.risk,
                    "residual_with_kg": _residual_kg(first),
                    "residual_without_kg": _residual_kg(second),
                }
            )
        )
        if progress is not None:
            progress()
    return pl.concat(frames)


def _residual_kg(outcome: Outcome) -> Floats:
    end = outcome.flush.end
    return np.asarray((end.loose + end.consolidated).sum(axis=1))


class Effects:
    """Sums of potential risks as chunks go by; `table` is the answer."""

    def __init__(self) -> None:
        self._sums: dict[tuple[str, str], dict[str, float]] = {}

    def add(self, rows: pl.DataFrame) -> None:
        """Take in the rows of a chunk."""
        for contrast, population, part in _populations(rows):
            sums = self._sums.setdefault((contrast, population), dict.fromkeys(_SUMS, 0.0))
            for name, value in part.select(**_SUMS).row(0, named=True).items():
                sums[name] += value or 0.0

    def table(self) -> pl.DataFrame:
        """One row a contrast and population: jobs, mean potential risks and residues, their differences, and the
        raw difference between those who did and those who did not (of their true risks: no chance in it)."""
        rows = [
            {"contrast": contrast, "population": population, **_means(sums)}
            for (contrast, population), sums in self._sums.items()
        ]
        order = {contrast.name: at for at, contrast in enumerate(CONTRASTS)}
        return pl.DataFrame(rows).sort(pl.col("contrast").replace_strict(order), maintain_order=True)


_SUMS = {
    "jobs": pl.len(),
    "risk_with": pl.col("risk_with").sum(),
    "risk_without": pl.col("risk_without").sum(),
    "residual_with_kg": pl.col("residual_with_kg").sum(),
    "residual_without_kg": pl.col("residual_without_kg").sum(),
    "did": pl.col("done").sum(),
    "did_not": (~pl.col("done")).sum(),
    "risk_of_those_who_did": pl.col("risk").filter(pl.col("done")).sum(),
    "risk_of_those_who_did_not": pl.col("risk").filter(~pl.col("done")).sum(),
}


def _populations(rows: pl.DataFrame) -> Iterator[tuple[str, str, pl.DataFrame]]:
    can_either = pl.col("chance").is_between(OVERLAP, 1.0 - OVERLAP)
    for (contrast,), part in rows.filter("is_open").group_by("contrast", maintain_order=True):
        yield str(contrast), "all", part
        yield str(contrast), "treated", part.filter(pl.col("done"))
        yield str(contrast), "overlap", part.filter(can_either.fill_null(value=False))


def _means(sums: dict[str, float]) -> dict[str, float | int | None]:
    def mean(total: str, count: str) -> float | None:
        return sums[total] / sums[count] if sums[count] else None

    first, second = mean("risk_with", "jobs"), mean("risk_without", "jobs")
    did, did_not = mean("risk_of_those_who_did", "did"), mean("risk_of_those_who_did_not", "did_not")
    return {
        "jobs": int(sums["jobs"]),
        "risk_with": first,
        "risk_without": second,
        "difference": None if first is None or second is None else first - second,
        "residual_with_kg": mean("residual_with_kg", "jobs"),
        "residual_without_kg": mean("residual_without_kg", "jobs"),
        "did": int(sums["did"]),
        "did_not": int(sums["did_not"]),
        "raw_difference": None if did is None or did_not is None else did - did_not,
    }
