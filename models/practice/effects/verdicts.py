"""From estimates to words: E-values, control of chance findings, power, and the three verdicts."""

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
NEEDED_Z = Z + float(ndtri(POWER))


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


def detectable(error: float) -> float:
    """Difference that is seen with chance `POWER` at that standard error."""
    return NEEDED_Z * error


def needed(jobs: int, error: float, base_risk: float) -> tuple[float, int]:
    """A difference worth knowing of, and about how many more jobs would show it with chance `POWER`.

    A quarter of the risk; where the jobs at hand would have shown that already, half of it, and so on. The standard
    error falls with the root of the number of jobs, other things alike.
    """
    target = WORTHWHILE_SHARE * base_risk
    while target >= detectable(error):
        target /= 2
    return target, round_up(jobs * ((detectable(error) / target) ** 2 - 1))


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
    """One of three outcomes."""
    if difference is None or q_value is None or np.isnan(q_value) or q_value > FALSE_SHARE:
        return "cannot be told yet"
    return "cuts callbacks" if difference < 0 else "raises callbacks"
