"""How a catch levels off: `M · (1 − exp(−x / tau))` by least squares, with honest intervals.

Answers: where would the curve level off, how far along is it, how sure is that. One time constant: the
curve knows nothing of more heat, more flow or another emitter taking the flow half way through. Held
against NIST StRD Misra1a and BoxBOD in tests/published.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from models.catch.curve_fit.many_curves import Estimates, estimate, fit_many, refusal
from models.catch.curve_fit.padded_arrays import Block
from models.catch.curve_fit.profile_intervals import profile_intervals
from models.catch.curve_fit.variable_projection import MIN_DISTINCT_X
from models.catch.records.ragged_arrays import Floats, checked_points
from models.catch.records.watch_result import SaturatingFit
from models.refusals import NotEnoughData
from pipeline.contract.findings import Finding

__all__ = ["catch_curve", "curve_points", "fit_many", "fit_saturating_curve", "x_at_share"]

UNDER_HALF = 0.5


def catch_curve(x: ArrayLike, asymptote: float, tau: float) -> Floats:
    """`asymptote · (1 − exp(−x / tau))`, shape of x; x and tau in one unit, asymptote in that of y.

    >>> float(catch_curve(30.0, asymptote=100.0, tau=30.0))
    63.2121
    """
    return np.asarray(-asymptote * np.expm1(-np.asarray(x, dtype=float) / tau), dtype=float)


def curve_points(fit: SaturatingFit, x: ArrayLike) -> Floats:
    """The fitted curve at x, for drawing; shape of x, in the unit of the y fitted."""
    return catch_curve(x, fit.asymptote, fit.tau)


def x_at_share(fit: SaturatingFit, share: float) -> float:
    """Where the fitted curve reaches that share of its asymptote, in the unit of x; 0 < share < 1."""
    if not 0.0 < share < 1.0:
        raise ValueError(f"share must lie between 0 and 1; it is {share}.")
    return -fit.tau * math.log1p(-share)


def fit_saturating_curve(
    x: ArrayLike, y: ArrayLike, *, level: float = 0.95, start: tuple[float, float] | None = None
) -> SaturatingFit:
    """Least-squares fit of `M · (1 − exp(−x / tau))`, with no start needed.

    x: shape (n,), time or the like, ≥ 0, rows in any order; y: shape (n,), cumulative, any unit. `level` is
    that of the profile intervals. `start` = (asymptote, rate = 1 / tau), both > 0, adds a candidate to
    the search; it can only better the answer, never spoil it.

    NotEnoughData under 4 different x above zero; FitRejected with a plain sentence where the points do not
    bend, bend before the first one, or are all zero; ValueError with the facts for NaN, negative x, unequal
    lengths, or a level or start out of range.
    """
    xs, ys = checked_points(x, y)
    if not 0.0 < level < 1.0:
        raise ValueError(f"level must lie between 0 and 1; it is {level}.")
    if xs.size == 0:
        raise NotEnoughData(what="weighings at different times", needed=MIN_DISTINCT_X, found=0)
    order = np.lexsort((ys, xs))
    curve = Block(xs[order, None], ys[order, None], np.array([xs.size], dtype=np.intp))
    theta, distinct = _start_theta(start), int(curve.distinct_positive_x()[0])
    if distinct < MIN_DISTINCT_X:  # before any search: most emitters of a job in progress have few weighings
        raise NotEnoughData(what="weighings at different times", needed=MIN_DISTINCT_X, found=distinct)
    found = estimate(curve, theta)
    refused = refusal(int(found.status[0]), distinct)
    if refused is not None:
        raise refused
    return _result(curve, found, level)


def _start_theta(start: Sequence[float] | None) -> Floats | None:
    if start is None:
        return None
    asymptote, rate = start
    if not (math.isfinite(asymptote) and math.isfinite(rate) and asymptote > 0 and rate > 0):
        raise ValueError(f"start must be two finite numbers above 0, asymptote and rate; it is {start}.")
    return np.array([-math.log(rate)])


def _result(curve: Block, found: Estimates, level: float) -> SaturatingFit:
    theta, rss = float(found.theta[0]), float(found.residual_sum_of_squares[0])
    bounds = profile_intervals(curve.x[:, 0], curve.y[:, 0], theta, rss, level)
    share, asymptote = float(found.share_reached[0]), float(found.asymptote[0])
    return SaturatingFit(
        asymptote=asymptote,
        tau=math.exp(theta),
        asymptote_se=float(found.asymptote_se[0]),
        rate=math.exp(-theta),
        rate_se=float(found.rate_se[0]),
        asymptote_low=bounds.asymptote_low,
        asymptote_high=bounds.asymptote_high,
        tau_low=bounds.tau_low,
        tau_high=bounds.tau_high,
        level=level,
        residual_sd=float(found.residual_sd[0]),
        residual_sum_of_squares=rss,
        points=int(curve.size[0]),
        share_reached=share,
        findings=under_half(share, asymptote, bounds.asymptote_high),
    )


def under_half(share: float, asymptote: float | None, asymptote_high: float) -> tuple[Finding, ...]:
    """`under_half_of_asymptote` where the last point lies under half of where the curve would level off."""
    if share >= UNDER_HALF:
        return ()
    high = None if math.isinf(asymptote_high) else asymptote_high
    return (
        Finding(
            "under_half_of_asymptote",
            f"The last weighing is under half of where the curve would level off: about {share:.0%} of it. "
            "How much is still to come is a long reach from here; weigh on before trusting it.",
            {"share_reached": share, "asymptote": asymptote, "asymptote_high": high},
        ),
    )
