"""Quoted against done: how far the hours were off, what was left of the price, and where too little was asked.

Figures of a group (an engineer, a size, a month) are drawn towards the firm's mean by how little they are known
(normal means with a common spread, method of moments), so that three odd jobs make no
verdict. Groups under five jobs are put together and not named. Nothing is ranked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.quote.pricing.price import Work, cost_parts
from models.refusals import NotEnoughData
from models.survey_features import as_numbers
from pipeline.contract.firm import Firm

Floats = NDArray[np.float64]
By = Literal["engineer", "size", "month"]

LEAST_JOBS = 5
"""Fewest jobs of a group that is shown by itself."""
_L_PER_EMITTER = 10.0
_Z = 1.959964
SIZES = ((0, 8, "up to 8 emitters"), (9, 14, "9 to 14 emitters"), (15, 10_000, "15 emitters and more"))
NEW_FILTER = ("on_return", "on_flow")
COLUMNS = (
    "firm_id",
    "job_id",
    "engineer_id",
    "visit_date",
    "emitter_count",
    "system_volume_l",
    "crew_size",
    "filter_at_survey",
    "filter_fitted",
    "is_predosed",
    "is_second_day",
    "quoted_price",
    "quoted_minutes",
    "low_minutes",
    "high_minutes",
    "low_kg",
    "high_kg",
    "site_minutes",
    "magnetite_kg",
    "non_magnetic_kg",
)


@dataclass(frozen=True, slots=True)
class GroupRecord:
    """One group's jobs. `minutes_over` is actual less quoted time on site [min], `kept_share` what was left of the
    price after cost; each drawn towards the firm's mean, with a 95 % interval."""

    by: By
    name: str
    jobs: int
    minutes_over: float
    minutes_low: float
    minutes_high: float
    kept_share: float
    kept_low: float
    kept_high: float
    loss_share: float
    is_underpriced: bool


@dataclass(frozen=True, slots=True, eq=False)
class TrackRecord:
    """Quoted against done over all jobs. `jobs` is one row a job with `actual_cost`, `kept`, `kept_share` and
    `minutes_over`; shares inside are of jobs quoted with a range, None where there is none."""

    jobs: pd.DataFrame
    minutes_over: float
    kept_share: float
    loss_share: float
    minutes_inside: float | None
    kilograms_inside: float | None
    ranged_jobs: int
    groups: tuple[GroupRecord, ...]


def track_record(quoted: pd.DataFrame, firm: Firm) -> TrackRecord:
    """Of jobs that were quoted and done: a frame of `COLUMNS`, NaN where not known; prices before tax.

    A job counts with a quoted price and its time on site. NotEnoughData when there is none.
    """
    known = quoted[quoted["quoted_price"].notna() & quoted["site_minutes"].notna()].reset_index(drop=True)
    if not len(known):
        raise NotEnoughData(what="job with a quoted price and its time on site", needed=1, found=0)
    jobs = known.assign(actual_cost=actual_cost(known, firm))
    jobs["kept"] = jobs["quoted_price"] - jobs["actual_cost"]
    jobs["kept_share"] = jobs["kept"] / jobs["quoted_price"].where(jobs["quoted_price"] > 0)
    jobs["minutes_over"] = jobs["site_minutes"] - jobs["quoted_minutes"]
    ranged = jobs["low_minutes"].notna() & jobs["high_minutes"].notna()
    return TrackRecord(
        jobs=jobs,
        minutes_over=float(jobs["minutes_over"].median()),
        kept_share=float(jobs["kept"].sum() / jobs["quoted_price"].sum()),
        loss_share=float((jobs["kept"] < 0).mean()),
        minutes_inside=_inside(jobs[ranged], "site_minutes", "low_minutes", "high_minutes"),
        kilograms_inside=_inside(jobs[ranged & jobs["magnetite_kg"].notna()], "magnetite_kg", "low_kg", "high_kg"),
        ranged_jobs=int(ranged.sum()),
        groups=tuple(g for by in ("engineer", "size", "month") for g in _groups(jobs, by, firm)),
    )


def actual_cost(jobs: pd.DataFrame, firm: Firm) -> Floats:
    """What each job cost at the firm's rates of today, before tax, shape (jobs,); a mass not known counts as none.

    A filter counts where one was fitted; where that is not on record, where none was there at survey. Water and
    chemical are those of the middle volume.
    """

    def column(name: str, otherwise: float | Floats) -> Floats:
        values = as_numbers(jobs[name])
        return np.where(np.isnan(values), otherwise, values)

    emitters, fitted = column("emitter_count", 8.0), jobs["filter_fitted"]
    was_there = column("filter_at_survey", 0.0) == 1
    work = Work(
        site_minutes=column("site_minutes", 0.0)[:, None],
        magnetite_kg=column("magnetite_kg", 0.0)[:, None],
        non_magnetic_kg=column("non_magnetic_kg", 0.0)[:, None],
        volume_l=column("system_volume_l", emitters * _L_PER_EMITTER)[:, None],
        crew=column("crew_size", float(firm.crew_size)),
        filter_there=np.where(fitted.notna(), ~fitted.isin(NEW_FILTER), was_there).astype(bool),
        predosed=column("is_predosed", 0.0) == 1,
        day_minutes=day_minutes_done(column("is_second_day", np.nan), column("site_minutes", 0.0), firm),
    )
    return np.asarray(cost_parts(work, firm).sum(axis=2)[:, 0])


def day_minutes_done(second_day: Floats, site_minutes: Floats, firm: Firm) -> Floats:
    """Minutes of a day that give each job the days it took, where the log tells; else the firm's own day."""
    day = np.full(len(site_minutes), float(firm.day_minutes))
    day = np.where(second_day == 0, np.maximum(day, site_minutes), day)
    return np.where((second_day == 1) & (site_minutes <= day), np.maximum(site_minutes * 0.75, 1.0), day)


def _inside(jobs: pd.DataFrame, value: str, low: str, high: str) -> float | None:
    if not len(jobs):
        return None
    return float(((jobs[value] >= jobs[low]) & (jobs[value] <= jobs[high])).mean())


def _groups(jobs: pd.DataFrame, by: By, firm: Firm) -> list[GroupRecord]:
    names = _names(jobs, by)
    sizes = names.value_counts()
    names = names.where(names.map(sizes) >= LEAST_JOBS, "others, under 5 jobs each")
    order = sorted(names.dropna().unique()) if by != "size" else [n for _, _, n in SIZES if (names == n).any()]
    split = [jobs[names == name] for name in order]
    minutes = drawn_in([group["minutes_over"].dropna().to_numpy(dtype=float) for group in split])
    kept = drawn_in([group["kept_share"].dropna().to_numpy(dtype=float) for group in split])
    wanted = firm.target_margin_share
    return [_record(by, str(name), split[i], minutes[i], kept[i], wanted) for i, name in enumerate(order)]


def _record(by: By, name: str, jobs: pd.DataFrame, minutes: Floats, kept: Floats, wanted: float) -> GroupRecord:
    return GroupRecord(
        by=by,
        name=name,
        jobs=len(jobs),
        minutes_over=float(minutes[0]),
        minutes_low=float(minutes[1]),
        minutes_high=float(minutes[2]),
        kept_share=float(kept[0]),
        kept_low=float(kept[1]),
        kept_high=float(kept[2]),
        loss_share=float((jobs["kept"] < 0).mean()),
        is_underpriced=bool(kept[2] < wanted),
    )


def _names(jobs: pd.DataFrame, by: By) -> pd.Series[str]:
    if by == "engineer":
        return jobs["engineer_id"].astype("string").fillna("not named").astype(object)
    if by == "month":
        return pd.to_datetime(jobs["visit_date"]).dt.strftime("%Y-%m").astype(object)
    counts = pd.to_numeric(jobs["emitter_count"], errors="coerce")
    names = pd.Series("size not known", index=jobs.index, dtype=object)
    for low, high, name in SIZES:
        names = names.mask((counts >= low) & (counts <= high), name)
    return names.where(names != "size not known")


def drawn_in(groups: list[Floats]) -> Floats:
    """Means drawn towards the common one, with 95 % bounds; shape (groups, 3). NaN for a group without values.

    Variances within are pooled. Sources: spread between groups DerSimonian & Laird 1986 (method of moments); drawn
    means and their variance Morris 1983, "Parametric empirical Bayes inference", from memory, held by simulation.
    """
    count = np.array([len(g) for g in groups], dtype=float)
    out = np.full((len(groups), 3), np.nan)
    there = count > 0
    if not there.any():
        return out
    mean = np.array([g.mean() if len(g) else np.nan for g in groups])
    free = float((count[there] - 1).sum())
    within = sum(float(((g - g.mean()) ** 2).sum()) for g in groups if len(g)) / free if free > 0 else 0.0
    error = within / count[there]
    weight = 1.0 / np.maximum(error, 1e-12)
    centre = float((weight * mean[there]).sum() / weight.sum())
    q = float((weight * (mean[there] - centre) ** 2).sum())
    spare = float(weight.sum() - (weight**2).sum() / weight.sum())
    between = max(0.0, (q - (int(there.sum()) - 1)) / spare) if spare > 0 else 0.0
    k = int(there.sum())
    # three groups or fewer tell too little of the spread between groups: they stand as they are
    pull = (k - 3) / (k - 1) * error / (between + error + 1e-12) if k > 3 else np.zeros(k)
    drawn = centre + (1 - pull) * (mean[there] - centre)
    unsure = 2 / (k - 3) * pull**2 * (mean[there] - centre) ** 2 if k > 3 else 0.0
    spread = np.sqrt(error * (1 - (k - 1) / k * pull) + unsure)
    out[there] = np.column_stack([drawn, drawn - _Z * spread, drawn + _Z * spread])
    return out
