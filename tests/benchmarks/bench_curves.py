"""100,000 saturating curves: `fit_many` against a loop of scipy's `curve_fit`. Run by hand, not timed in CI.

    python tests/benchmarks/bench_curves.py [CURVES] [SAMPLE]

The loop runs on a sample and is scaled up. Also says how often the loop, with sensible starts, stopped
at a worse sum of squares than the grid, and the other way round.
"""

from __future__ import annotations

import sys
import time

import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

from models.catch.curve import catch_curve, fit_many

POINTS = 8


def planted(curves: int, seed: int = 5) -> tuple[np.ndarray, np.ndarray]:
    """Times and cumulative catches, shape (curves, POINTS), with 3 % noise of the asymptote."""
    rng = np.random.default_rng(seed)
    tau = np.exp(rng.normal(np.log(60.0), 0.6, (curves, 1)))
    asymptote = np.exp(rng.normal(0.0, 0.8, (curves, 1)))
    minutes = np.cumsum(rng.uniform(8.0, 30.0, (curves, POINTS)), axis=1)
    clean = -asymptote * np.expm1(-minutes / tau)
    return minutes, clean + rng.normal(0.0, 0.03, clean.shape) * asymptote


def loop(minutes: np.ndarray, kg: np.ndarray) -> np.ndarray:
    """Residual sum of squares of `curve_fit` from a usual start, NaN where it gave up; shape (curves,)."""
    left = np.full(len(kg), np.nan)
    for row, (x, y) in enumerate(zip(minutes, kg, strict=True)):
        try:
            best, _ = curve_fit(catch_curve, x, y, p0=[1.2 * y.max(), x[-1] / 2.0], maxfev=2000)
        except (RuntimeError, OptimizeWarning):
            continue
        left[row] = np.sum((y - catch_curve(x, *best)) ** 2)
    return left


def main(curves: int = 100_000, sample: int = 1_000) -> None:
    """Print seconds, ratio and disagreements."""
    minutes, kg = planted(curves)
    group = np.repeat(np.arange(curves), POINTS)
    began = time.perf_counter()
    fits = fit_many(minutes.ravel(), kg.ravel(), group)
    ours = time.perf_counter() - began
    began = time.perf_counter()
    left = loop(minutes[:sample], kg[:sample])
    theirs = (time.perf_counter() - began) * curves / sample
    mine = fits.residual_sum_of_squares[:sample]
    fitted = ~np.isnan(mine)
    worse = int(np.sum(fitted & ~(left <= mine * (1 + 1e-6))))
    better = int(np.sum(fitted & (left < mine * (1 - 1e-9))))
    refused = int(np.sum(fits.refused != ""))
    lines = (
        f"fit_many: {curves:,} curves of {POINTS} points in {ours:.2f} s, {refused} refused",
        f"curve_fit loop: {theirs:.1f} s (scaled from {sample:,}); ratio {theirs / ours:.0f}",
        f"of {int(fitted.sum())} compared, the loop was worse or gave up on {worse}, better on {better}",
    )
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:3]))
