"""Saturating fits of many curves at once; the single fit of `models.catch.curve_fit.curve` is this with one curve."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.catch.curve_fit import variable_projection
from models.catch.curve_fit.padded_arrays import Block, blocks
from models.catch.records.ragged_arrays import Floats, Ints, checked_points, ragged
from models.catch.records.watch_result import ManyFits
from models.refusals import FitRejected, NotEnoughData, Refusal

_REASON = {
    variable_projection.STRAIGHT: (
        "The catches keep growing about as fast as they began; the curve does not bend yet, "
        "so where it levels off cannot be told."
    ),
    variable_projection.FLAT: (
        "All that came had come by the first weighing; how fast it came cannot be told, "
        "and nothing since points to more."
    ),
    variable_projection.NOTHING: "Nothing has been caught, so there is no curve to fit.",
}


@dataclass(frozen=True, slots=True, eq=False)
class Estimates:
    """Per curve, shape (curves,): estimates, standard errors and what is left over; NaN where not fitted.

    `status` is one of FITTED … TOO_FEW of `models.catch.curve_fit.variable_projection`.
    """

    asymptote: Floats
    theta: Floats
    rate_se: Floats
    asymptote_se: Floats
    residual_sum_of_squares: Floats
    residual_sd: Floats
    share_reached: Floats
    status: Ints


def refusal(status: int, distinct_x: int) -> Refusal | None:
    """The refusal that a status of `models.catch.curve_fit.variable_projection` stands for; None for a fitted curve."""
    if status == variable_projection.FITTED:
        return None
    if status == variable_projection.TOO_FEW:
        return NotEnoughData(
            what="weighings at different times", needed=variable_projection.MIN_DISTINCT_X, found=distinct_x
        )
    return FitRejected(_REASON[status])


def estimate(block: Block, start_theta: Floats | None = None) -> Estimates:
    """Least-squares estimates with the usual asymptotic standard errors, sd with n − 2 degrees of freedom."""
    found = variable_projection.project(block, start_theta)
    rate = np.exp(-found.theta)
    u = block.x * rate
    g = -np.expm1(-u)
    square = np.einsum("ij,ij->j", g, g)
    m = np.einsum("ij,ij->j", g, block.y) / square
    # how the curve moves with log(rate), and what of that the asymptote cannot take up
    by_log_rate = np.subtract(1.0, g) * u
    lean = np.einsum("ij,ij->j", g, by_log_rate) / square
    by_log_rate -= lean * g
    apart = np.einsum("ij,ij->j", by_log_rate, by_log_rate)
    residual = block.y - m * g
    rss = np.einsum("ij,ij->j", residual, residual)
    sd = np.sqrt(rss / np.maximum(block.size - 2, 1))
    with np.errstate(divide="ignore", invalid="ignore"):  # a curve that tells nothing of its rate: no end to the error
        rate_se = sd * rate / (m * np.sqrt(apart))
        asymptote_se = sd * np.sqrt(1.0 / square + lean * lean / apart)
    return Estimates(
        asymptote=m,
        theta=found.theta,
        rate_se=rate_se,
        asymptote_se=asymptote_se,
        residual_sum_of_squares=rss,
        residual_sd=sd,
        share_reached=-np.expm1(-block.last_x() * rate),
        status=found.status,
    )


def fit_many(x: ArrayLike, y: ArrayLike, group: ArrayLike) -> ManyFits:
    """Fit `M · (1 − exp(−x / tau))` to every curve of a long table.

    x, y: shape (points,), any unit, x ≥ 0; group: shape (points,), the curve of each point, rows in any
    order (quickest in order of group and x). Curves come back sorted by label; a curve that cannot be fitted
    has NaN and a sentence. ValueError with the facts for unequal lengths, NaN or negative x. No point at all
    gives no curve.

    >>> fits = fit_many([1, 2, 3, 4, 1, 2], [5, 8, 9, 9.5, 1, 2], list("aaaabb"))
    >>> [str(reason) for reason in fits.refused]
    ['', 'This needs at least 4 weighings at different times; there are 2.']
    """
    xs, ys = checked_points(x, y)
    labels = np.asarray(group)
    if labels.shape != xs.shape:
        raise ValueError(f"group must name the curve of each point; it has {labels.shape}, x {xs.shape}.")
    names, curves = ragged(xs, ys, labels)
    found = {field.name: np.empty(names.size) for field in fields(Estimates)}
    distinct = np.zeros(names.size, dtype=np.intp)
    for places, block in blocks(curves):
        part = estimate(block)
        for name, column in found.items():
            column[places] = getattr(part, name)
        if (part.status == variable_projection.TOO_FEW).any():
            distinct[places] = block.distinct_positive_x()
    status, theta = found.pop("status").astype(np.intp), found.pop("theta")
    return ManyFits(
        group=names,
        tau=np.exp(theta),
        rate=np.exp(-theta),
        points=curves.size,
        refused=_reasons(status, distinct),
        **found,
    )


def _reasons(status: Ints, distinct: Ints) -> NDArray[np.str_]:
    """The sentence of each curve that was refused, empty for the others; shape (curves,)."""
    refused = np.flatnonzero(status != variable_projection.FITTED)
    said = [str(refusal(int(status[at]), int(distinct[at]))) for at in refused]
    reasons = np.zeros(status.size, dtype=f"<U{max(map(len, said), default=1)}")
    reasons[refused] = said
    return reasons
