"""How heat and flow change the pace of release, told by changes within jobs only.

The log of each catch is held against heat and flow meanwhile, with an effect of its own for each curve (so nothing that
differs between houses, crews, jobs or emitters passes for an effect) and for each place on a curve (so the usual
slowing down does not either): what is left is told by heat and flow that changed while one emitter had the flow.
Intervals are clustered by job (Liang and Zeger 1986, Biometrika 73:13, from memory). A hot spell also leaves less
for later, which is not taken out: where heat stays high for several weighings the effect may be told too small.
More flow carries loose debris to the magnet sooner; the figure of flow holds that too. Shaking is logged once
a job, so its effect cannot be told this way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from models.catch.records.ragged_arrays import Floats, Ints
from models.refusals import NotEnoughData

MIN_JOBS = 40
MIN_POINTS = 3
NAMES = ("heat", "flow")
MEANING = {"heat": "for each 10 K more", "flow": "for twice the flow"}
REFERENCE_C, REFERENCE_L_MIN, STEP_K = 50.0, 20.0, 10.0
NOT_TOLD = "Shaking is logged once for a whole job, not when it was done, so its effect within jobs cannot be told."
ROUNDING_SHARE = 0.1  # of a job's mean catch; scales read in steps, and the log of nothing is none
LEAST_CHANGE = 0.005
LAST_PLACE = 9
_TAUS = np.geomspace(3.0, 300.0, 60)
_NEAR_MINUTES, _LONGEST_MINUTES = 40.0, 240.0
_Z95 = 1.959964


@dataclass(frozen=True, slots=True)
class ReleaseEffect:
    """How many times as fast debris comes, with a 95 % interval; `per` says for what change. `exponent` is that of the
    clock: of e for each 10 K, or of the ratio of flows, with its standard error."""

    name: str
    per: str
    ratio: float
    low: float
    high: float
    exponent: float
    exponent_se: float


@dataclass(frozen=True, slots=True)
class ReleaseEffects:
    """Effects within jobs, of `jobs` jobs and `weighings` weighings; `not_told` says what cannot be had so."""

    effects: tuple[ReleaseEffect, ...]
    jobs: int
    weighings: int
    not_told: str = NOT_TOLD

    def pace(self, temp_c: Floats, flow_l_min: Floats) -> Floats:
        """How fast the clock runs at these readings; 1 at 50 °C and 20 L/min. Any shape."""
        heat, flow = (effect.exponent for effect in self.effects)
        warmth = (np.asarray(temp_c) - REFERENCE_C) / STEP_K
        return np.asarray(np.exp(heat * warmth) * (np.asarray(flow_l_min) / REFERENCE_L_MIN) ** flow, dtype=float)


@dataclass(frozen=True, slots=True, eq=False)
class Timed:
    """Weighings in order of job, curve and time, shape (weighings,): kilograms, minutes since the one before on the
    same curve, readings meanwhile as (weighings, 2) log factors, place of curve and of job."""

    kg: Floats
    minutes: Floats
    x: Floats
    curve: Ints
    job: Ints


def release_effects(timed: Timed) -> ReleaseEffects:
    """From weighings with readings; NotEnoughData under 40 jobs or where heat or flow never changed."""
    jobs = int(timed.job.max()) + 1 if timed.job.size else 0
    if jobs < MIN_JOBS:
        raise NotEnoughData(what="jobs with readings of heat and flow during the flush", needed=MIN_JOBS, found=jobs)
    own = timed.x * _share_of_pace(timed)[:, None]
    design = _within(timed, np.column_stack([own, *_places(timed)]))
    if (design[:, : len(NAMES)].std(axis=0) < LEAST_CHANGE).any():
        raise NotEnoughData(what="jobs in which heat and flow changed during the flush", needed=MIN_JOBS, found=0)
    rate = _within(timed, np.log((timed.kg + ROUNDING_SHARE) / timed.minutes))
    found = np.linalg.lstsq(design, rate, rcond=None)[0]
    theta, se = found[: len(NAMES)], _clustered(design, rate - design @ found, timed.job)[: len(NAMES)]
    unit = np.array([1.0, np.log(2.0)])
    ratio, low, high = (np.exp(unit * (theta + z * se)) for z in (0.0, -_Z95, _Z95))
    effects = tuple(
        ReleaseEffect(name, MEANING[name], *(float(each[i]) for each in (ratio, low, high, theta, se)))
        for i, name in enumerate(NAMES)
    )
    return ReleaseEffects(effects, jobs, int(timed.kg.size))


def _share_of_pace(timed: Timed) -> Floats:
    """By how much the log of a catch grows with the log of the pace, the pool before it given: 1 for a short interval,
    less where much of the pool comes within it."""
    part = timed.minutes / _common_tau(timed)
    return np.asarray(part * np.exp(-part) / -np.expm1(-part), dtype=float)


def _common_tau(timed: Timed) -> float:
    """The pace [min] at which all curves together are likeliest, pools profiled out."""
    first, spent = _first(timed), timed.minutes
    total = np.cumsum(spent)
    after = total - np.repeat(total[first] - spent[first], np.diff(np.append(first, spent.size)))
    last = np.append(first[1:], after.size) - 1
    kg = np.add.reduceat(timed.kg, first)
    fits = [
        float((timed.kg * np.log(np.exp(-(after - spent) / tau) - np.exp(-after / tau) + 1e-300)).sum())
        - float((kg * np.log(-np.expm1(-after[last] / tau))).sum())
        for tau in _TAUS
    ]
    return float(_TAUS[int(np.argmax(fits))])


def _first(timed: Timed) -> Ints:
    return np.flatnonzero(np.diff(timed.curve, prepend=-1))


def _places(timed: Timed) -> list[Floats]:
    """One column for each place on a curve but the first; the last stands for all further ones."""
    first = _first(timed)
    place = np.arange(timed.kg.size) - np.repeat(first, np.diff(np.append(first, timed.kg.size)))
    return [(np.minimum(place, LAST_PLACE) == each).astype(float) for each in range(1, LAST_PLACE + 1)]


def _within(timed: Timed, values: Floats) -> Floats:
    """Values less their mean over the curve; (weighings,) or (weighings, columns)."""
    first = _first(timed)
    size = np.diff(np.append(first, timed.kg.size))
    mean = (np.add.reduceat(values, first, axis=0).T / size).T
    return np.asarray(values - np.repeat(mean, size, axis=0), dtype=float)


def _clustered(design: Floats, rest: Floats, job: Ints) -> Floats:
    """Standard errors with each job as one witness, shape (columns,)."""
    jobs = int(job.max()) + 1
    score = np.zeros((jobs, design.shape[1]))
    np.add.at(score, job, design * rest[:, None])
    inverse = np.linalg.pinv(design.T @ design)
    return np.asarray(np.sqrt(np.diag(inverse @ (score.T @ score) @ inverse) * jobs / (jobs - 1)), dtype=float)


def timed_weighings(catch_curve: pd.DataFrame, readings: pd.DataFrame) -> Timed:
    """From `ftr_catch_curve` and `readings`: the magnet's weighings of curves with three or more, each with heat and
    flow from the readings of its interval. Kilograms are in units of the job's mean, so that jobs count alike."""
    key = ["firm_id", "job_id"]
    is_long_enough = catch_curve["interval_minutes"].between(0.5, _LONGEST_MINUTES)
    magnet = catch_curve[(catch_curve["trap"] == "magnet") & is_long_enough]
    magnet = magnet.dropna(subset=["dry_g"]).sort_values([*key, "caught_at", "catch_no"])
    known = readings.assign(temp=readings[["flow_temp_c", "return_temp_c"]].astype(float).mean(axis=1))
    known = known[known["temp"].notna() & (known["flow_l_min"].astype(float) > 0)].sort_values([*key, "read_at"])
    by_job = dict(tuple(known.groupby(key, sort=False)))
    parts: list[pd.DataFrame] = []
    for name, own in magnet.groupby(key, sort=True):
        read = by_job.get(name)
        if read is not None and len(read) >= 2:
            parts.append(_of_job(own, read, len(parts)))
    table = pd.concat([part for part in parts if len(part)]) if any(len(part) for part in parts) else _of_none()
    return _timed(table)


def _of_none() -> pd.DataFrame:
    return pd.DataFrame(columns=["job", "emitter", "kg", "minutes", "heat", "flow"], dtype=float)


def _of_job(own: pd.DataFrame, read: pd.DataFrame, place: int) -> pd.DataFrame:
    """Weighings of one job, those with a reading within 40 minutes; whole-system ones form one curve, but only where
    no emitter was ever named: between named ones they are too few to be one."""
    minute = np.timedelta64(1, "s")
    middle = (own["caught_at"].to_numpy("datetime64[s]") - read["read_at"].to_numpy("datetime64[s]")[0]) / minute / 60.0
    middle = middle - own["interval_minutes"].to_numpy(float) / 2.0
    at = (read["read_at"].to_numpy("datetime64[s]") - read["read_at"].to_numpy("datetime64[s]")[0]) / minute / 60.0
    near = np.abs(at[None, :] - middle[:, None]).min(axis=1) <= _NEAR_MINUTES
    emitter = own["focus_emitter_no"].astype(float).to_numpy()
    whole = bool(np.isnan(emitter).all())
    found: pd.DataFrame = pd.DataFrame(
        {
            "job": place,
            "emitter": np.where(np.isnan(emitter), 0.0, emitter),
            "kg": own["dry_g"].to_numpy(float) / max(float(own["dry_g"].mean()), 1e-9),
            "minutes": own["interval_minutes"].to_numpy(float),
            "heat": (np.interp(middle, at, read["temp"].to_numpy(float)) - REFERENCE_C) / STEP_K,
            "flow": np.log(np.interp(middle, at, read["flow_l_min"].to_numpy(float)) / REFERENCE_L_MIN),
        }
    )
    kept: pd.DataFrame = found.loc[near & (whole | ~np.isnan(emitter))]
    return kept


def _timed(table: pd.DataFrame) -> Timed:
    """Curves of three weighings or more that caught something, numbered; order of time is kept."""
    curves = table.groupby(["job", "emitter"])["kg"]
    kept = table[(curves.transform("size") >= MIN_POINTS) & (curves.transform("sum") > 0)]
    kept = kept.sort_values(["job", "emitter"], kind="stable")
    curve = kept.groupby(["job", "emitter"], sort=True).ngroup().to_numpy().astype(np.intp)
    job = np.unique(kept["job"].to_numpy(float), return_inverse=True)[1].astype(np.intp)
    x = kept[["heat", "flow"]].to_numpy(float)
    return Timed(kept["kg"].to_numpy(float), kept["minutes"].to_numpy(float), x, curve, job)
