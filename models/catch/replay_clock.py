"""How often the ranges of a replay by the clock held: over all moments, and by how long crews had been at it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from models.catch.replay import Replayed, within_80

LAST_MINUTES = 60.0
LAST_TENTH = 0.1
QUARTERS = (0.25, 0.5, 0.75)


@dataclass(frozen=True, slots=True)
class ClockScore:
    """How often the 80 % ranges held at some moments of some jobs, each asked every so many minutes and forecast from
    earlier jobs only; `from_minute` to `to_minute` of the flush, None where the group is not by the clock."""

    group: str
    moments: int
    jobs: int
    kg_coverage_80: float
    minutes_coverage_80: float
    from_minute: float | None = None
    to_minute: float | None = None

    def as_json(self) -> dict[str, Any]:
        """As plain data."""
        return asdict(self)


def clock_scores(rows: Sequence[Replayed]) -> list[ClockScore]:
    """All moments; each quarter of them by the clock, from early to late; the last hour and the last tenth of a flush,
    which only hindsight knows. Rows that no past jobs stood behind are left out."""
    asked = pd.DataFrame([_asked(row) for row in rows if row.learnt_from])
    if asked.empty:
        return []
    edges = [0.0, *np.quantile(asked["now"], QUARTERS).tolist(), float(asked["now"].max())]
    found = [_score("all moments", asked)]
    for first, last in pairwise(edges):
        part = asked[(asked["now"] > first) & (asked["now"] <= last)]
        found += [_score("by the clock", part, first, last)] if len(part) else []
    ends = (("the last hour", asked["left"] <= LAST_MINUTES), ("the last tenth", asked["share"] >= 1.0 - LAST_TENTH))
    return [*found, *(_score(name, asked[inside]) for name, inside in ends if inside.any())]


def _asked(row: Replayed) -> dict[str, Any]:
    return {
        "job": row.place,
        "now": row.seen.minutes,
        "left": row.then_minutes,
        "share": row.share,
        "kg": within_80(row.seen.remaining_kg, row.then_kg),
        "minutes": within_80(row.seen.minutes_left, row.then_minutes),
    }


def _score(group: str, part: pd.DataFrame, first: float | None = None, last: float | None = None) -> ClockScore:
    return ClockScore(
        group=group,
        moments=len(part),
        jobs=int(part["job"].nunique()),
        kg_coverage_80=float(part["kg"].astype(float).mean()),
        minutes_coverage_80=float(part["minutes"].astype(float).mean()),
        from_minute=first,
        to_minute=last,
    )
