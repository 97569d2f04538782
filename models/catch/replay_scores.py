"""How good the forecasts of a replay were, beside two simple ways to say how much is left.

The naive curve is the least-squares curve through the running sum of the catch; where the weighings do not bend, it
refuses, and there it is not counted. The quote alone is the quote's kilograms, learnt from the same
earlier jobs, less what has been caught.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import pandas as pd

from models.catch.curve_fit.curve import fit_saturating_curve
from models.catch.records.job import JobCatch, house_curve
from models.catch.records.ragged_arrays import Floats
from models.catch.replay import Replayed, blocks, in_time
from models.quantiles import LEVELS
from models.refusals import Refusal
from models.scores import pinball

SEVEN = np.array(list(LEVELS.values()))
KEY = ["firm_id", "job_id"]
MOST_NAIVE_KG = 50.0
"""A naive curve that promises more is held there: no house of the trade ever gave as much, and without a bound
one such job decides its mean."""


@dataclass(frozen=True, slots=True)
class ReplayScore:
    """Forecasts of one group of jobs at one share of the flush, all learnt from earlier jobs only.

    `coverage_80`, `coverage_90`: shares within the ranges; errors are mean absolute, pinball losses means over
    seven levels, in kg; `naive_share` is where the naive curve gives a figure, and `against_naive` the ratio of
    our error to its, there; `against_quote`, `pinball_against_quote` likewise. None where there is no peer.
    """

    group: str
    at: float
    jobs: int
    mean_kg: float
    coverage_80: float
    coverage_90: float
    minutes_coverage_80: float
    error_kg: float
    pinball_kg: float
    naive_share: float
    naive_error_kg: float | None
    against_naive: float | None
    quote_error_kg: float | None
    against_quote: float | None
    pinball_against_quote: float | None

    def as_json(self) -> dict[str, Any]:
        """As plain data."""
        return asdict(self)


def quote_quantiles(
    jobs: Sequence[JobCatch],
    features: pd.DataFrame,
    outcomes: pd.DataFrame,
    step: Callable[[], None] = lambda: None,
    *,
    parts: Sequence[tuple[int, int]] | None = None,
) -> dict[int, Floats]:
    """Quantiles (7,) of each job's whole magnetite [kg] by the quote learnt from the same earlier jobs, by the job's
    place in time; `features` and `outcomes` as `ftr_quote` and `ftr_outcome`, `parts` the blocks of the replay."""
    from models.quote.train import train_quote
    from models.survey_features import encode

    order = pd.DataFrame([(job.firm_id, job.job_id) for job in in_time(jobs)], columns=KEY)
    x = order.merge(features, on=KEY, how="left", validate="one_to_one")
    y = order.merge(outcomes, on=KEY, how="left", validate="one_to_one")
    found: dict[int, Floats] = {}
    for first, end in parts or blocks(len(order)):
        if first:
            model = train_quote(x.iloc[:first], y.iloc[:first])
            told = model.targets["magnetite_kg"].quantiles(encode(x.iloc[first:end]), SEVEN)
            found |= {first + i: row for i, row in enumerate(told)}
        step()
    return found


def scores(rows: Sequence[Replayed], jobs: Sequence[JobCatch], quotes: dict[int, Floats]) -> list[ReplayScore]:
    """Scores overall and by way of working at every share, of the rows that past jobs stood behind."""
    ordered = in_time(jobs)
    judged = pd.DataFrame([_judged(row, ordered[row.place], quotes.get(row.place)) for row in rows if row.learnt_from])
    if judged.empty:
        return []
    found = []
    for at, here in judged.groupby("at"):
        found.append(_score("all jobs", float(str(at)), here))
        found += [_score(str(kind), float(str(at)), part) for kind, part in here.groupby("kind") if len(part) >= 20]
    return found


def naive_left(job: JobCatch, minutes: float) -> float | None:
    """Kilograms left by the curve through the running sum so far; None where it refuses."""
    at, kg = house_curve(job.known_at(job.last_at, minutes))
    try:
        fit = fit_saturating_curve(at, kg)
    except Refusal:
        return None
    return min(fit.asymptote - float(kg[-1]), MOST_NAIVE_KG)


def _judged(row: Replayed, job: JobCatch, quoted: Floats | None) -> dict[str, Any]:
    left, minutes = row.seen.remaining_kg, row.seen.minutes_left
    if left is None or minutes is None:
        raise ValueError("only a row with a forecast is judged")
    told, then = np.array(list(left.as_dict().values())), row.then_kg
    naive = naive_left(job, row.seen.minutes)
    alone = None if quoted is None else np.maximum(quoted - row.seen.caught_kg, 0.0)
    return {
        "at": row.share,
        "kind": row.kind,
        "then": then,
        "in_80": left.p10 <= then <= left.p90,
        "in_90": left.p05 <= then <= left.p95,
        "minutes_in_80": minutes.p10 <= row.then_minutes <= minutes.p90,
        "error": abs(left.p50 - then),
        "pinball": float(pinball([then], told[None], SEVEN)[0]),
        "naive": np.nan if naive is None else abs(naive - then),
        "quote": np.nan if alone is None else abs(float(alone[3]) - then),
        "quote_pinball": np.nan if alone is None else float(pinball([then], alone[None], SEVEN)[0]),
    }


def _score(group: str, at: float, part: pd.DataFrame) -> ReplayScore:
    mean = part.drop(columns=["at", "kind"]).astype(float).mean()
    has_curve, has_quote = part["naive"].notna(), part["quote"].notna()
    return ReplayScore(
        group=group,
        at=at,
        jobs=len(part),
        mean_kg=float(mean["then"]),
        coverage_80=float(mean["in_80"]),
        coverage_90=float(mean["in_90"]),
        minutes_coverage_80=float(mean["minutes_in_80"]),
        error_kg=float(mean["error"]),
        pinball_kg=float(mean["pinball"]),
        naive_share=float(has_curve.mean()),
        naive_error_kg=_mean(part.loc[has_curve, "naive"]),
        against_naive=_ratio(part.loc[has_curve, "error"], part.loc[has_curve, "naive"]),
        quote_error_kg=_mean(part.loc[has_quote, "quote"]),
        against_quote=_ratio(part.loc[has_quote, "error"], part.loc[has_quote, "quote"]),
        pinball_against_quote=_ratio(part.loc[has_quote, "pinball"], part.loc[has_quote, "quote_pinball"]),
    )


def _mean(values: pd.Series[float]) -> float | None:
    return float(values.mean()) if len(values) else None


def _ratio(ours: pd.Series[float], theirs: pd.Series[float]) -> float | None:
    return float(ours.mean() / theirs.mean()) if len(theirs) and float(theirs.mean()) > 0 else None
