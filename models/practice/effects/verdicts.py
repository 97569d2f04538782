"""From estimates to words: E-values, control of chance findings, power, and the four verdicts."""

from __future__ import annotations

from math import ceil, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from models.practice.results.audit_result import Verdict

Floats = NDArray[np.float64]
LEVEL = 0.95
FALSE_SHARE = 0.05
"""Verdicts that chance alone brings, as a share of verdicts given (Benjamini & Hochberg 1995)."""
POWER = 0.8
WORTHWHILE_SHARE = 0.25
"""A change of the callback risk worth knowing of: a quarter of it (a stated choice, no source)."""
Z = float(ndtri(0.5 + LEVEL / 2))


def two_sided(estimate: float, error: float) -> float:
    """p-value of a normal estimate against 0."""
    return float(2 * ndtr(-abs(estimate) / error)) if error > 0 else 1.0


def e_value(ratio: float) -> float:
    """Strength of hidden confounding that would explain a risk ratio away (VanderWeele & Ding 2017, Ann. Intern. Med.
    167:268): RR + √(RR (RR − 1)), the ratio turned above 1 first."""
    above = max(ratio, 1 / ratio)
    return above + sqrt(above * (above - 1))


def e_values(risk_with: float, risk_without: float, error_of_log: float) -> tuple[float | None, float | None]:
    """Of the estimate, and of the end of its interval nearer to no effect (1 where that holds no effect)."""
    if risk_with <= 0 or risk_without <= 0:
        return None, None
    log = np.log(risk_with / risk_without)
    nearer = np.sign(log) * max(abs(log) - Z * error_of_log, 0.0)
    return e_value(float(np.exp(log))), e_value(float(np.exp(nearer)))


def q_values(p: Floats) -> Floats:
    """Benjamini-Hochberg adjusted p-values, shape of `p`; NaN stays NaN and does not count."""
    from scipy.stats import false_discovery_control  # late: dear to load where nothing is audited

    out = np.full(len(p), np.nan)
    told = ~np.isnan(p)
    if told.any():
        out[told] = false_discovery_control(p[told], method="bh")
    return out


def threshold(verdicts: int, tested: int) -> float:
    """p-value at which one more practice of those `tested` gets a verdict, beside so many `verdicts` that stand:
    theirs is the next place in the order of Benjamini and Hochberg."""
    return FALSE_SHARE * min(verdicts + 1, tested) / tested


def detectable(error: float, p: float) -> float:
    """Difference that gets below the p-value `p` with chance `POWER` at that standard error."""
    return float(ndtri(1 - p / 2) + ndtri(POWER)) * error


def needed(jobs: int, error: float, target: float, p: float, difference: float | None = None) -> int | None:
    """About how many more jobs would settle it, the standard error falling with the root of their number.

    So many that a true `target` gets below `p` with chance `POWER`. Where the jobs at hand would have shown that
    already: that the interval comes clear of no difference, or of the target, if the estimate stays; None without one.
    """
    if target < detectable(error, p):
        return round_up(jobs * ((detectable(error, p) / target) ** 2 - 1))
    if difference is None:
        return None
    enough = max(abs(difference) / float(ndtri(1 - p / 2)), (target - abs(difference)) / Z)
    return round_up(jobs * ((error / enough) ** 2 - 1))


def planned_error(jobs: int, share_with: float, base_risk: float, inflation: float = 1.3) -> float:
    """Standard error to expect from so many jobs, a share of them with the practice; `inflation` for the adjustment."""
    spread = base_risk * (1 - base_risk) / (jobs * share_with * (1 - share_with))
    return inflation * sqrt(spread)


def round_up(number: float) -> int:
    """To two leading figures: more would be false precision."""
    if number <= 10:
        return max(ceil(number), 1)
    step = 10 ** (int(np.floor(np.log10(number))) - 1)
    return int(ceil(number / step) * step)


def verdict(difference: float | None, q_value: float | None) -> Verdict:
    """Whether callbacks are cut or raised, or neither can be told."""
    if difference is None or q_value is None or np.isnan(q_value) or q_value > FALSE_SHARE:
        return "cannot be told yet"
    return "cuts callbacks" if difference < 0 else "raises callbacks"


def is_no_difference(low: float | None, high: float | None, target: float) -> bool:
    """Whether the interval leaves out a difference worth knowing of, either way."""
    return low is not None and high is not None and -target < low and high < target
