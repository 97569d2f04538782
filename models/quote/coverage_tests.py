"""What the scores of a back-test allow to be said: whether ranges hold their promise, and outcomes fall evenly.

Limits of a share are exact (Clopper & Pearson 1934, Biometrika 26:404); evenness is the smooth test of Neyman (1937)
with two parts, level and spread, on the counts by tenth. Both take each tested job as one draw of its own. (References
from memory.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from models.quote.backtest import TargetScores
from models.scores import exact_limits

Floats = NDArray[np.float64]

BAND_ALL, BAND_GROUP = 0.03, 0.06
"""How far coverage may lie from its promise: over all jobs, and in each group of them."""
PROMISED = {"share_80": 0.80, "share_90": 0.90}
ALL_JOBS = "all jobs"

Verdict = Literal["holds", "holds so far", "perhaps too narrow", "perhaps too wide", "too narrow", "too wide"]
Shape = Literal["even", "forecasts too low", "forecasts too high", "ranges too narrow", "ranges too wide"]


@dataclass(frozen=True, slots=True)
class Held:
    """How often outcomes fell in a range that promises the share `promised` of jobs, with 95 % limits.

    `band` is how far the share may lie from the promise. `verdict`: *holds* or *too narrow, too wide* where the limits
    lie wholly inside or outside the band; *so far* and *perhaps* where chance could still turn it.
    """

    name: str
    jobs: int
    promised: float
    share: float
    low: float
    high: float
    band: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Evenness:
    """Outcomes by equal parts of their forecasts: limits of a count (95 % for all parts together), and the shape.

    `tilt` and `spread` are standard normal when forecasts are honest: above 0 where outcomes lie high, or far out.
    `p` is the chance of as uneven a picture from honest forecasts.
    """

    low: int
    high: int
    outside: int
    tilt: float
    spread: float
    p: float
    shape: Shape


def held(name: str, jobs: int, share: float, promised: float, band: float) -> Held:
    """Judge one share of `jobs` tested jobs."""
    low, high = exact_limits(round(share * jobs), jobs)
    verdict = _verdict(share, low, high, (promised - band, promised + band))
    return Held(name, jobs, promised, share, low, high, band, verdict)


def _verdict(share: float, low: float, high: float, band: tuple[float, float]) -> Verdict:
    slack = 1e-9
    if high < band[0] - slack:
        return "too narrow"
    if low > band[1] + slack:
        return "too wide"
    if share < band[0] - slack:
        return "perhaps too narrow"
    if share > band[1] + slack:
        return "perhaps too wide"
    return "holds" if low >= band[0] and high <= band[1] else "holds so far"


def judged(scores: TargetScores, field: str) -> tuple[Held, ...]:
    """All jobs first, then each group that has a tested job; `field` is a key of `PROMISED`."""
    promised = PROMISED[field]
    groups = [(ALL_JOBS, scores.coverage, BAND_ALL), *((n, c, BAND_GROUP) for n, c in scores.groups.items())]
    return tuple(held(n, c.jobs, getattr(c, field), promised, band) for n, c, band in groups if c.jobs > 0)


def evenness(counts: Sequence[int]) -> Evenness:
    """Judge counts of outcomes by equal parts of their forecasts."""
    n, parts = np.asarray(counts, dtype=float), len(counts)
    total = int(n.sum())
    tail = 0.025 / parts
    low, high = (int(stats.binom.ppf(p, total, 1 / parts)) for p in (tail, 1 - tail))
    away = (np.arange(parts) + 0.5) / parts - 0.5
    tilt, spread = (_standardised(n, values) for values in (away, away**2 - (away**2).mean()))
    p = float(np.exp(-(tilt**2 + spread**2) / 2))
    outside = int(((n < low) | (n > high)).sum())
    return Evenness(low, high, outside, tilt, spread, p, _shape(tilt, spread, p))


def _standardised(counts: Floats, values: Floats) -> float:
    total = counts.sum()
    return float((counts * values).sum() / np.sqrt(total * (values**2).mean())) if total > 0 else 0.0


def _shape(tilt: float, spread: float, p: float) -> Shape:
    if p > 0.05:
        return "even"
    if abs(tilt) >= abs(spread):
        return "forecasts too low" if tilt > 0 else "forecasts too high"
    return "ranges too narrow" if spread > 0 else "ranges too wide"
