"""One contrast, adjusted: who is compared, how comparable they are, and the doubly robust difference in risk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from models.practice.cohort.audited_jobs import HORIZON_DAYS, Records
from models.practice.cohort.censoring import FEWEST_AT_HORIZON, followed_to, outcomes_by_stratum, strata
from models.practice.cohort.contrasts import Contrast, done
from models.practice.cohort.overlap import comparable, overlap, why_not
from models.practice.effects.all_follow_up import TWO_YEARS, Watched, expected_callbacks, is_told, risks_by
from models.practice.effects.estimators import Estimate, doubly_robust, influence_error
from models.practice.effects.verdicts import LEVEL, Z, two_sided
from models.practice.nuisance.nuisance_fits import chances, deal, expected, known_design
from models.practice.results.audit_result import Overlap

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

FEWEST_JOBS = 30
FEWEST_CALLBACKS = 15
FEWEST_CALLBACKS_EITHER = 3
"""Below these no effect is computed: an interval on so few callbacks would not hold what it promises."""
FEWEST_ENGINEERS = 10
"""Below this many engineers a standard error that lets jobs of one go together cannot be estimated."""


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """The jobs of a contrast: `rows` of the records, `a` with the practice, `days`, `is_event` of those rows."""

    contrast: Contrast
    rows: Ints
    a: Flags
    days: Floats
    is_event: Flags

    @property
    def in_time(self) -> Flags:
        """Debris callbacks within the horizon."""
        return np.asarray(self.is_event & (self.days <= HORIZON_DAYS))

    def callbacks(self, way: bool) -> int:
        """Debris callbacks of those with (True) or without."""
        return int(self.in_time[self.a == way].sum())


@dataclass(frozen=True, slots=True, eq=False)
class Wide:
    """The estimate from all follow-up: by the horizon and by two years; p-value of that the first year alone says
    something else; whether it is the one told."""

    by: tuple[Estimate, Estimate]
    p_same: float
    is_told: bool


@dataclass(frozen=True, slots=True, eq=False)
class Adjusted:
    """A contrast after adjustment. `chance` of all its jobs; `kept` of them are compared, `estimate` is theirs.

    `refused` holds the sentence that stands for the estimate; then it is None, and so may be what comes before it.
    `estimate` is that of the first year or of all follow-up (`wide`), by the rule of `is_told`; `year` the former.
    """

    compared: Compared
    refused: str = ""
    chance: Floats | None = None
    overlap: Overlap | None = None
    kept: Flags | None = None
    outcome: Floats | None = None
    fold: Ints | None = None
    estimate: Estimate | None = None
    standard_error: float | None = None
    p_value: float | None = None
    year: Estimate | None = None
    wide: Wide | None = None

    @property
    def by_job(self) -> Estimate | None:
        """What each job adds to the effect, for means over some of them: of the first year, since the shares of all
        follow-up are of all jobs together."""
        return self.year or self.estimate


def compare(records: Records, contrast: Contrast, among: Flags | None = None) -> Compared:
    """The jobs that did it the one way or the other, `among` some of the records."""
    first, second = done(contrast, records.frame)
    either = first | second if among is None else (first | second) & among
    rows = np.flatnonzero(either)
    return Compared(contrast, rows, first[rows], records.days[rows], records.is_event[rows])


def adjust(records: Records, compared: Compared) -> Adjusted:
    """The adjusted effect of a contrast, or the sentence why there is none."""
    refused = too_few(compared)
    if refused:
        return Adjusted(compared, refused)
    rows, a = compared.rows, compared.a
    leave, visit = records.leaves_early[rows], records.visit_day[rows]
    codes = strata(a, leave, compared.days, compared.is_event, HORIZON_DAYS, visit)
    outcome = outcomes_by_stratum(codes, compared.days, compared.is_event, HORIZON_DAYS)
    known = records.known.beside(compared.contrast.column)
    design, fold = known_design(known, rows, records.engineer), deal(a)
    chance = chances(design, a, fold)
    found = overlap(chance, a)
    kept = comparable(chance)
    refused = why_not(found, chance, a)
    if refused:
        return Adjusted(compared, refused, chance, found, kept)
    means = expected(design.rows(kept), a[kept], outcome[kept], "logistic", fold[kept])
    year = doubly_robust(outcome[kept], a[kept], chance[kept], *means)
    unit = records.unit[rows][kept]
    watched = Watched(
        compared.days[kept], compared.is_event[kept], a[kept], chance[kept], fold[kept], design.rows(kept)
    )
    wide = _wide(watched, year, unit)
    estimate = wide.by[0] if wide.is_told else year
    error = standard_error(estimate.of_difference, unit)
    p = p_value(estimate.difference, estimate.of_difference, unit)
    return Adjusted(compared, "", chance, found, kept, outcome, fold, estimate, error, p, year, wide)


def _wide(watched: Watched, year: Estimate, unit: Ints) -> Wide:
    """From all follow-up, held against the first year's estimate on the same jobs."""
    counted = expected_callbacks(watched)
    by = risks_by(watched, counted, float(HORIZON_DAYS)), risks_by(watched, counted, float(TWO_YEARS))
    p_same = p_value(by[0].difference - year.difference, by[0].of_difference - year.of_difference, unit)
    of_year, of_all = (standard_error(each.of_difference, unit) for each in (year, by[0]))
    return Wide(by, p_same, is_told(of_year, of_all, p_same))


def standard_error(influence: Floats, unit: Ints) -> float:
    """Of a mean of influences: the larger of job by job, and engineer by engineer where they are enough.

    The latter is as uncertain as its engineers are few: widened so that a normal interval of it is Student's.
    """
    alone, clustered, engineers = _errors(influence, unit)
    if engineers < FEWEST_ENGINEERS:
        return alone
    return max(alone, clustered * float(stdtrit(engineers - 1, 0.5 + LEVEL / 2)) / Z)


def p_value(difference: float, influence: Floats, unit: Ints) -> float:
    """Of no difference, two-sided: the larger of normal job by job and Student's t engineer by engineer."""
    alone, clustered, engineers = _errors(influence, unit)
    p = two_sided(difference, alone)
    if engineers < FEWEST_ENGINEERS or clustered <= 0:
        return p
    return max(p, float(2 * stdtr(engineers - 1, -abs(difference) / clustered)))


def _errors(influence: Floats, unit: Ints) -> tuple[float, float, int]:
    """Standard errors job by job and engineer by engineer, and how many engineers there are."""
    codes = np.unique(unit, return_inverse=True)[1]
    engineers = int(codes.max(initial=-1)) + 1
    return influence_error(influence), influence_error(influence, codes), engineers


def too_few(compared: Compared) -> str:
    """Empty where there are enough jobs, callbacks and followed years, else one sentence."""
    a, label = compared.a, compared.contrast.label
    smaller = int(min(a.sum(), (~a).sum()))
    if smaller < FEWEST_JOBS:
        return f"{label}: the smaller group holds {smaller} jobs; {FEWEST_JOBS} are the least for an effect."
    seen = compared.callbacks(True), compared.callbacks(False)
    if sum(seen) < FEWEST_CALLBACKS or min(seen) < FEWEST_CALLBACKS_EITHER:
        return (
            f"{label}: {seen[0]} and {seen[1]} debris callbacks within {HORIZON_DAYS} days are too few; an effect "
            f"needs {FEWEST_CALLBACKS} together and {FEWEST_CALLBACKS_EITHER} in either group."
        )
    followed = min(
        followed_to(compared.days[a == way], compared.is_event[a == way], HORIZON_DAYS) for way in (True, False)
    )
    if followed < FEWEST_AT_HORIZON:
        return (
            f"{label}: of one group only {followed} jobs have been followed for {HORIZON_DAYS} days; "
            f"{FEWEST_AT_HORIZON} are the least."
        )
    return ""
