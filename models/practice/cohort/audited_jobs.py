"""The jobs of an audit as arrays: callbacks and follow-up, what was known before, who led, what was done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.practice.cohort.confounders import Known, encode
from models.practice.cohort.follow_up import CUT_SHORT, LEFT_OUT, UNDATED, is_cut_short, is_silent

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

HORIZON_DAYS = 365
LEAVES_EARLY = "flat"
"""Kind of property whose clients are lost more often (common practice, no source)."""
_KEY = ["firm_id", "job_id"]
_PLAN = (
    "engineer_id",
    "filter_fitted",
    "inhibitor_dosed",
    "flow_reversed",
    "half_drained_emitters",
    "strainer_checked",
    "final_turbidity_ntu",
    "final_iron_mg_l",
)


@dataclass(frozen=True, slots=True)
class PracticeFrames:
    """Tables of a build: `jobs`, `ftr_quote`, `ftr_outcome`, `ftr_callback`, one row a job each."""

    jobs: pd.DataFrame
    quote: pd.DataFrame
    outcome: pd.DataFrame
    callback: pd.DataFrame


@dataclass(frozen=True, slots=True)
class Scope:
    """Which jobs: of these firms (empty: all), visited from `first` to `last`, of this system type (empty: both)."""

    firms: tuple[str, ...] = ()
    first: date | None = None
    last: date | None = None
    system_type: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Jobs in order of firm and id, arrays (n,). `frame` holds the columns of the tables side by side.

    `days` to the first debris callback or to the end of follow-up, `is_event`; `first_day`, `first_kind` of the first
    callback of all (1 debris, 2 another cause, 0 the end of follow-up). `engineer` is a code, −1 where not named;
    `unit` is one where it is, and a code of its own for each job where it is not. `silent_firms` have handed in no
    callbacks: their jobs are among those `left_out`, and so are those that say only whether they came back, of which
    `undated_came_back` did.
    """

    frame: pd.DataFrame
    days: Floats
    is_event: Flags
    first_day: Floats
    first_kind: Ints
    engineer: Ints
    engineers: int
    known: Known
    left_out: dict[str, int]
    unknown_cause: int
    silent_firms: int = 0
    undated_came_back: int = 0

    @property
    def unit(self) -> Ints:
        """Clusters for standard errors, shape (n,)."""
        own = self.engineers + np.arange(len(self.engineer))
        return np.asarray(np.where(self.engineer >= 0, self.engineer, own))

    @property
    def leaves_early(self) -> Flags:
        """Jobs whose clients are lost more often."""
        return np.asarray((self.frame["property_kind"] == LEAVES_EARLY).fillna(False), dtype=bool)

    @property
    def visit_day(self) -> Floats:
        """Day of the visit (n,), counted from 1970."""
        return np.asarray(pd.to_datetime(self.frame["visit_date"]).to_numpy(dtype="datetime64[D]").astype(float))

    @property
    def callbacks(self) -> int:
        """Debris callbacks within the horizon."""
        return int((self.is_event & (self.days <= HORIZON_DAYS)).sum())


def gather(frames: PracticeFrames, scope: Scope | None = None) -> Records:
    """The records within a scope; jobs without follow-up, or of a firm that hands in no callbacks or does not
    say how long it watched, are left out and counted."""
    plan = frames.jobs[[*_KEY, *_PLAN]].assign(came_back=frames.jobs.get("came_back"))
    seen = frames.callback[[*_KEY, "followed_days", "first_debris_day", "first_other_day", "first_unknown_day"]]
    seen = seen.assign(is_silent=is_silent(frames.callback), is_cut_short=is_cut_short(frames.callback))
    minutes = frames.outcome[[*_KEY, "site_minutes", "magnetite_kg", "non_magnetic_kg"]]
    quote = frames.quote.drop(columns="engineer_id", errors="ignore")  # builds made earlier lack it
    frame = quote.merge(plan, on=_KEY).merge(seen, on=_KEY).merge(minutes, on=_KEY, how="left")
    frame = _within(frame, scope or Scope()).sort_values(_KEY, ignore_index=True)
    followed = _number(frame["followed_days"])
    debris = _number(frame["first_debris_day"])
    frame["is_undated"] = _is_undated(frame)
    usable, counted = _left_out(frame, followed)
    firms = frame.loc[frame["is_silent"] & ~frame["is_undated"], "firm_id"].nunique()
    came_back = int((frame["is_undated"] & _is_true(frame["came_back"])).sum())
    frame = frame.drop(columns=["is_silent", "is_cut_short", "is_undated", "came_back"])
    frame, followed, debris = frame[usable].reset_index(drop=True), followed[usable], debris[usable]
    other = np.fmin(_number(frame["first_other_day"]), _number(frame["first_unknown_day"]))
    engineer, engineers = _codes(frame)
    first_day = np.fmin(np.fmin(debris, other), followed)
    kind = np.where(debris <= np.where(np.isnan(other), np.inf, other), 1, np.where(np.isnan(other), 0, 2))
    unknown = int((_number(frame["first_unknown_day"]) <= HORIZON_DAYS).sum())
    return Records(
        frame,
        np.fmin(debris, followed),
        ~np.isnan(debris),
        first_day,
        kind.astype(np.int64),
        engineer,
        engineers,
        encode(frame),
        counted,
        unknown,
        firms,
        came_back,
    )


def _left_out(frame: pd.DataFrame, followed: Floats) -> tuple[Flags, dict[str, int]]:
    """Which jobs count, and how many do not, by reason; reasons without a job are left out themselves."""
    no_day, cut, silent = (frame[name].to_numpy(dtype=bool) for name in ("is_undated", "is_cut_short", "is_silent"))
    silent = silent & ~no_day
    usable = (followed >= 1) & ~silent & ~cut & ~no_day
    reasons = {
        "no follow-up after the visit": ~usable & ~silent & ~cut & ~no_day,
        LEFT_OUT: silent,
        CUT_SHORT: cut & ~no_day,
        UNDATED: no_day,
    }
    return usable, {reason: int(rows.sum()) for reason, rows in reasons.items() if rows.any()}


def _is_undated(frame: pd.DataFrame) -> pd.Series:
    """Jobs that say whether they came back, of firms one of whose jobs came back on no day on record."""
    first_days = frame[["first_debris_day", "first_other_day", "first_unknown_day"]]
    no_day = _is_true(frame["came_back"]) & first_days.isna().all(axis=1)
    return frame["came_back"].notna() & no_day.groupby(frame["firm_id"]).transform("any").astype(bool)


def _is_true(values: pd.Series) -> pd.Series:
    return values.astype(object).eq(True)


def _within(frame: pd.DataFrame, scope: Scope) -> pd.DataFrame:
    keep = np.ones(len(frame), dtype=bool)
    visit = pd.to_datetime(frame["visit_date"])
    if scope.firms:
        keep &= frame["firm_id"].isin(scope.firms).to_numpy(dtype=bool)
    if scope.first is not None:
        keep &= (visit >= pd.Timestamp(scope.first)).to_numpy(dtype=bool)
    if scope.last is not None:
        keep &= (visit <= pd.Timestamp(scope.last)).to_numpy(dtype=bool)
    if scope.system_type:
        keep &= (frame["system_type"] == scope.system_type).fillna(False).to_numpy(dtype=bool)
    return frame[keep]


def _codes(frame: pd.DataFrame) -> tuple[Ints, int]:
    """An engineer is one of a firm: the same id in two firms is two people."""
    named = frame["engineer_id"].notna().to_numpy(dtype=bool)
    text = frame["firm_id"].astype(str) + "\n" + frame["engineer_id"].astype(str)
    codes, distinct = pd.factorize(text.where(named))
    return np.asarray(codes, dtype=np.int64), len(distinct)


def _number(values: pd.Series) -> Floats:
    return np.asarray(pd.to_numeric(values, errors="coerce").to_numpy(dtype=float, na_value=np.nan))
