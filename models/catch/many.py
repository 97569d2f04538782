"""Saturating fits of many curves at once; the single fit of `models.catch.curve` is this with one curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.catch import projection
from models.catch.ragged import Floats, Ints, Ragged, checked_points, ragged
from models.catch.result import ManyFits
from models.refusals import FitRejected, NotEnoughData, Refusal

CURVES_AT_ONCE = 2000  # keeps the working arrays in the processor's cache

_REASON = {
    projection.STRAIGHT: (
        "The catches keep growing about as fast as they began; the curve does not bend yet, "
        "so where it levels off cannot be told."
    ),
    projection.FLAT: (
        "All that came had come by the first weighing; how fast it came cannot be told, "
        "and nothing since points to more."
    ),
    projection.NOTHING: "Nothing has been caught, so there is no curve to fit.",
}


@dataclass(frozen=True, slots=True, eq=False)
class Estimates:
    """Per curve, shape (curves,): estimates, standard errors and what is left over."""

    asymptote: Floats
    theta: Floats
    rate_se: Floats
    asymptote_se: Floats
    residual_sum_of_squares: Floats
    residual_sd: Floats
    share_reached: Floats
    status: Ints


def refusal(status: int, distinct_x: int) -> Refusal | None:
    """The refusal that a status of `models.catch.projection` stands for; None for a fitted curve."""
    if status == projection.FITTED:
        return None
    if status == projection.TOO_FEW:
        return NotEnoughData(
            what="weighings at different times", needed=projection.MIN_DISTINCT_X, found=distinct_x
        )
    return FitRejected(_REASON[status])


def estimate(curves: Ragged, start_theta: Floats | None = None) -> Estimates:
    """Least-squares estimates with the usual asymptotic standard errors, sd with n − 2 degrees of freedom."""
    found = projection.project(curves, start_theta)
    theta, m = found.theta, found.asymptote
    rate = np.exp(-theta)
    decay = np.exp(-curves.x * curves.spread(rate))
    g = -np.expm1(-curves.x * curves.spread(rate))
    by_rate = curves.spread(m) * curves.x * decay
    square = curves.sums(g * g)
    lean = curves.sums(g * by_rate) / square
    apart = curves.sums((by_rate - curves.spread(lean) * g) ** 2)
    rss = curves.sums((curves.y - curves.spread(m) * g) ** 2)
    sd = np.sqrt(rss / np.maximum(curves.size - 2, 1))
    return Estimates(
        asymptote=m,
        theta=theta,
        rate_se=sd / np.sqrt(apart),
        asymptote_se=sd * np.sqrt(1.0 / square + lean * lean / apart),
        residual_sum_of_squares=rss,
        residual_sd=sd,
        share_reached=-np.expm1(-curves.last_x() * rate),
        status=found.status,
    )


def fit_many(x: ArrayLike, y: ArrayLike, group: ArrayLike) -> ManyFits:
    """Fit `M · (1 − exp(−x / tau))` to every curve of a long table.

    x, y: shape (points,), any unit, x ≥ 0; group: shape (points,), the curve of each point, rows in any
    order. Curves come back sorted by label; a curve that cannot be fitted has NaN and a sentence.
    ValueError with the facts for unequal lengths, NaN or negative x. No point at all gives no curve.

    >>> fits = fit_many([1, 2, 3, 4, 1, 2], [5, 8, 9, 9.5, 1, 2], list("aaaabb"))
    >>> [str(reason) for reason in fits.refused]
    ['', 'This needs at least 4 weighings at different times; there are 2.']
    """
    xs, ys = checked_points(x, y)
    labels = np.asarray(group)
    if labels.shape != xs.shape:
        raise ValueError(f"group must name the curve of each point; it has {labels.shape}, x {xs.shape}.")
    names, curves = ragged(xs, ys, labels)
    parts = [
        estimate(curves.take(np.arange(at, min(at + CURVES_AT_ONCE, names.size))))
        for at in range(0, names.size, CURVES_AT_ONCE)
    ]
    return _gathered(names, curves, parts)


def _gathered(names: NDArray[np.generic], curves: Ragged, parts: list[Estimates]) -> ManyFits:
    def column(name: str) -> Floats:
        return np.concatenate([getattr(part, name) for part in parts] or [np.empty(0)])

    distinct = curves.distinct_positive_x() if names.size else curves.size
    reasons = [refusal(int(s), int(n)) for s, n in zip(column("status"), distinct, strict=True)]
    theta = column("theta")
    return ManyFits(
        group=names,
        asymptote=column("asymptote"),
        tau=np.exp(theta),
        rate=np.exp(-theta),
        asymptote_se=column("asymptote_se"),
        rate_se=column("rate_se"),
        residual_sd=column("residual_sd"),
        residual_sum_of_squares=column("residual_sum_of_squares"),
        share_reached=column("share_reached"),
        points=curves.size,
        refused=np.array(["" if reason is None else str(reason) for reason in reasons], dtype=np.str_),
    )
