"""The effect among some of the jobs only: where evidence allows, the interval widened for looking several times."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

from models.practice.cohort.audited_jobs import Records
from models.practice.effects.doubly_robust import (
    FEWEST_CALLBACKS,
    FEWEST_CALLBACKS_EITHER,
    FEWEST_JOBS,
    Adjusted,
    standard_error,
)
from models.practice.effects.verdicts import LEVEL
from models.practice.results.audit_result import SubgroupEffect

Flags = NDArray[np.bool_]
MANY_EMITTERS = 15


@dataclass(frozen=True, slots=True)
class Subgroup:
    """Some of the jobs, told by what was known at survey."""

    code: str
    label: str
    of: Callable[[pd.DataFrame], pd.Series]


SUBGROUPS: tuple[Subgroup, ...] = (
    Subgroup("microbore", "Microbore", lambda f: f["pipe_layout"] == "microbore_manifold"),
    Subgroup("open_vented", "Open-vented", lambda f: f["system_type"] == "open_vented"),
    Subgroup("sealed", "Sealed", lambda f: f["system_type"] == "sealed"),
    Subgroup("many_emitters", f"{MANY_EMITTERS} emitters or more", lambda f: f["emitter_count"] >= MANY_EMITTERS),
)
"""Fixed beforehand: physics gives a reason to look at each."""


def subgroup_effects(records: Records, adjusted: Adjusted) -> tuple[SubgroupEffect, ...]:
    """Mean of the jobs' own contributions to the effect of the first year within each subgroup; the fits are those of
    all jobs.

    The interval is widened for the number of subgroups (Bonferroni).
    """
    assert adjusted.kept is not None
    assert adjusted.by_job is not None
    rows = adjusted.compared.rows[adjusted.kept]
    frame = records.frame.iloc[rows]
    z = float(ndtri(1 - (1 - LEVEL) / (2 * len(SUBGROUPS))))
    a, seen = adjusted.compared.a[adjusted.kept], adjusted.compared.in_time[adjusted.kept]
    own = adjusted.by_job.of_difference + adjusted.by_job.difference
    unit, out = records.unit[rows], []
    for group in SUBGROUPS:
        inside = np.asarray(group.of(frame).fillna(False), dtype=bool)
        jobs = int((inside & a).sum()), int((inside & ~a).sum())
        calls = int((inside & a & seen).sum()), int((inside & ~a & seen).sum())
        if min(jobs) < FEWEST_JOBS or sum(calls) < FEWEST_CALLBACKS or min(calls) < FEWEST_CALLBACKS_EITHER:
            told = f"Too few for an effect of its own: {jobs[0]} and {jobs[1]} jobs, {sum(calls)} debris callbacks."
            out.append(SubgroupEffect(group.code, group.label, *jobs, None, None, None, told))
            continue
        mean = float(own[inside].mean())
        half = z * standard_error(own[inside] - mean, unit[inside])
        out.append(SubgroupEffect(group.code, group.label, *jobs, mean, mean - half, mean + half))
    return tuple(out)
