"""The last digits of a saturating fit: Newton steps in log(tau), each curve held inside its own bracket."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.curve_fit.padded_arrays import Block
from models.catch.records.ragged_arrays import Floats, Ints

DOT = "ij,ij->j"
NEWTON_LIMIT = 80
CLOSE = 1e-7  # a Newton step this small leaves an error of its square
NARROW = 4e-15
ROUNDING = 1e-13
TAKE_OUT_BELOW = 0.7  # share still moving under which the others are taken out of the sums
STRAIGHT_LAST_X_PER_TAU = 0.25  # under this 1 − exp(−u) has lost digits to subtraction


@dataclass(frozen=True, slots=True, eq=False)
class Bracket:
    """log(tau) of a point that is better than both ends, and of the ends; `gain` at the point. Shape (curves,)."""

    point: Floats
    gain: Floats
    low: Floats
    high: Floats

    def take(self, curves: Ints) -> Bracket:
        """The brackets of those curves."""
        return Bracket(self.point[curves], self.gain[curves], self.low[curves], self.high[curves])


def refined(block: Block, bracket: Bracket, start: Floats) -> Floats:
    """log(tau) of the peak inside each bracket, begun at `start`; shape (curves,). Never worse than its point."""
    theta = _newton(block, bracket, start, exact=False)
    nearly_straight = np.flatnonzero(block.last_x() * np.exp(-theta) < STRAIGHT_LAST_X_PER_TAU)
    if nearly_straight.size:
        part = bracket.take(nearly_straight)
        theta[nearly_straight] = _newton(block.take(nearly_straight), part, theta[nearly_straight], exact=True)
    return theta


def _newton(block: Block, bracket: Bracket, start: Floats, *, exact: bool) -> Floats:
    """Newton steps that may not lose: one that does becomes its end of the bracket, and half the way is gone back to
    what was best, after the first step all of it (the slope there is not known yet)."""
    theta, kept, gain = start.copy(), bracket.point.copy(), bracket.gain.copy()
    low, high = bracket.low.copy(), bracket.high.copy()
    active = np.arange(theta.size)
    for step in range(NEWTON_LIMIT):
        here, best = theta[active], kept[active]
        slope, bend, gained = slope_and_bend(block, here, exact=exact)
        lost = (gained < gain[active] * (1.0 - ROUNDING)) & (here != best)
        up = np.where(lost, here < best, slope > 0)  # the peak lies towards larger tau
        below, above = np.where(up, here, low[active]), np.where(up, high[active], here)
        with np.errstate(divide="ignore", invalid="ignore"):
            moved = here - slope / bend
        newton = (bend < 0) & (moved >= below) & (moved <= above) & ~lost
        moved = np.where(newton, moved, (below + above) / 2)
        moved = np.where(lost, best if step == 0 else (here + best) / 2, moved)
        low[active], high[active], theta[active] = below, above, moved
        kept[active], gain[active] = np.where(lost, best, here), np.where(lost, gain[active], gained)
        going = np.abs(moved - here) > np.where(newton, CLOSE, NARROW) * np.maximum(1.0, np.abs(moved))
        left = int(going.sum())
        if left == 0:
            break
        if left < TAKE_OUT_BELOW * active.size:
            active, block = active[going], block.take(np.flatnonzero(going))
    return theta


def slope_and_bend(block: Block, theta: Floats, *, exact: bool) -> tuple[Floats, Floats, Floats]:
    """Σ r·g′ and its derivative in log(tau), r the residual at the best M, and the gain M²·Σg²; shape (curves,) each.

    g = 1 − e^(−u), u = x / tau, g′ = −u·e^(−u). The slope is 0 at a peak, the bend below 0. The gain is what the
    curve takes off the sum of squares, in squared units of y.
    `exact` keeps the digits of g at small u, at twice the time.
    """
    u = block.x * np.exp(-theta)
    if exact:
        g = -np.expm1(-u)
        decay = 1.0 - g
    else:
        decay = np.exp(-u)
        g = 1.0 - decay
    w = np.multiply(u, decay, out=decay)  # −g′
    square, ww, wg = np.einsum(DOT, g, g), np.einsum(DOT, w, w), np.einsum(DOT, w, g)
    m = np.einsum(DOT, g, block.y) / square
    g *= m
    rw_each = np.subtract(block.y, g, out=g)
    rw_each *= w
    rw, rv = rw_each.sum(axis=0), np.einsum(DOT, rw_each, u)
    m1 = (m * wg - rw) / square
    return -rw, rw - rv + m1 * wg - m * ww, m * m * square
