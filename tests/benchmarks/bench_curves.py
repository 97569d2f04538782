"""100,000 saturating curves of 6 to 20 points: `fit_many` against a loop of scipy's `curve_fit`. Run by hand.

    python -m tests.benchmarks.bench_curves [--curves 100000] [--sample 2000] [--json]

Prints the ratio of times (processor time, best of three; the loop on a sample, scaled up), the digits kept of the
certified NIST values, and how often each of both ended at a worse optimum than a fine scan of every tau.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
import warnings
from collections.abc import Callable

import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

from models.catch.curve_fit.curve import fit_many, fit_saturating_curve
from models.catch.records.watch_result import ManyFits

Table = tuple[np.ndarray, np.ndarray, np.ndarray]
FEWEST, MOST = 6, 20
NOISE = 0.03
WORSE = 1e-6
"""A sum of squares this much above the best is another optimum, not rounding."""
MISRA_X = (77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0)
MISRA_Y = (10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78)
CERTIFIED = {
    "Misra1a": (MISRA_X, MISRA_Y, (2.3894212918e02, 2.7070075241e00, 5.5015643181e-04, 7.2668688436e-06)),
    "BoxBOD": (
        (1, 2, 3, 5, 7, 10),
        (109, 149, 149, 191, 213, 224),
        (2.1380940889e02, 1.2354515176e01, 5.4723748542e-01, 1.0455993237e-01),
    ),
}
"""Points; asymptote, its standard error, rate, its standard error: itl.nist.gov/div898/strd/nls."""


def planted(curves: int, seed: int = 5) -> Table:
    """Minutes, cumulative catches and curve of each point, in order; noise is 3 % of the asymptote."""
    rng = np.random.default_rng(seed)
    size = rng.integers(FEWEST, MOST + 1, curves)
    first = np.cumsum(size) - size
    step = rng.uniform(8.0, 30.0, int(size.sum()))
    minutes = np.cumsum(step)
    minutes -= np.repeat(minutes[first] - step[first], size)
    tau = np.repeat(np.exp(rng.normal(np.log(60.0), 0.6, curves)), size)
    asymptote = np.repeat(np.exp(rng.normal(0.0, 0.8, curves)), size)
    clean = -asymptote * np.expm1(-minutes / tau)
    return minutes, clean + NOISE * asymptote * rng.standard_normal(minutes.size), np.repeat(np.arange(curves), size)


def saturating(x: np.ndarray, asymptote: float, rate: float) -> np.ndarray:
    """What the loop fits: as short as it can be written."""
    return asymptote * (1.0 - np.exp(-rate * x))


def loop(table: Table, starts: Callable[[np.ndarray, np.ndarray], list[float] | None]) -> np.ndarray:
    """Residual sum of squares of `curve_fit` curve by curve, `inf` where it gave up; shape (curves,)."""
    ends = np.cumsum(np.bincount(table[2]))
    left = []
    for x, y in zip(np.split(table[0], ends[:-1]), np.split(table[1], ends[:-1]), strict=True):
        try:
            best, _ = curve_fit(saturating, x, y, p0=starts(x, y))
            left.append(float(np.sum((y - saturating(x, *best)) ** 2)))
        except RuntimeError:
            left.append(np.inf)
    return np.array(left)


def scanned(table: Table, steps: int = 4000) -> np.ndarray:
    """Least sum of squares over a fine scan of tau, asymptote ≥ 0, apart from the code tested; shape (curves,)."""
    ends = np.cumsum(np.bincount(table[2]))
    found = []
    for x, y in zip(np.split(table[0], ends[:-1]), np.split(table[1], ends[:-1]), strict=True):
        tau = np.geomspace(x[x > 0].min() / 14.0, x.max() * 1000.0, steps)
        shape = 1.0 - np.exp(-x / tau[:, None])
        asymptote = np.maximum(shape @ y / (shape * shape).sum(axis=1), 0.0)
        found.append(float(((y - asymptote[:, None] * shape) ** 2).sum(axis=1).min()))
    return np.array(found)


def digits() -> dict[str, float]:
    """Digits that agree with the certified estimates and standard errors, fewest of the four; 11 are published."""
    kept = {}
    for name, (x, y, certified) in CERTIFIED.items():
        fit = fit_saturating_curve(x, y)
        got = (fit.asymptote, fit.asymptote_se, fit.rate, fit.rate_se)
        worst = max(abs(a / b - 1.0) for a, b in zip(got, certified, strict=True))
        kept[name] = round(float(-np.log10(max(worst, 1e-12))), 1)
    return kept


def first_of(table: Table, curves: int) -> Table:
    """The first curves of a table."""
    kept = table[2] < curves
    return table[0][kept], table[1][kept], table[2][kept]


def timed(work: Callable[[], object], rounds: int = 3) -> float:
    """Least processor time of some rounds [s]."""
    took = []
    for _ in range(rounds):
        began = time.process_time()
        work()
        took.append(time.process_time() - began)
    return min(took)


def hostile(curves: int, seed: int = 11) -> Table:
    """Curves on which optima part: little bend, much noise, long gaps, points at one level."""
    rng = np.random.default_rng(seed)
    size = rng.integers(5, 15, curves)
    number = np.repeat(np.arange(curves), size)
    x = np.exp(rng.normal(3.0, 1.5, number.size))
    x = x[np.lexsort((x, number))]
    tau = np.exp(rng.normal(3.5, 2.0, curves))[number]
    y = 1.0 - np.exp(-x / tau) + rng.normal(0.0, 0.5, curves)[number] ** 2 * rng.standard_normal(number.size)
    return x, y, number


def worse_share(fits: ManyFits, other: np.ndarray) -> float:
    """Share of the curves fitted whose sum of squares lies above the other's by more than rounding."""
    fitted = fits.refused == ""
    return float(np.mean(fits.residual_sum_of_squares[fitted] > other[fitted] * (1 + WORSE)))


def measured(curves: int, sample: int) -> dict[str, object]:
    """Everything printed."""
    table = planted(curves)
    part = first_of(table, sample)
    shuffled = np.random.default_rng(1).permutation(table[0].size)
    ours = timed(lambda: fit_many(*table))
    unsorted = timed(lambda: fit_many(*(column[shuffled] for column in table)), 1)
    usual = lambda x, y: [float(1.2 * y.max()), float(2.0 / x[-1])]  # noqa: E731
    theirs = timed(lambda: loop(part, usual)) * curves / sample
    fits, hard = fit_many(*part), hostile(sample)
    best = fits.residual_sum_of_squares
    fitted = fits.refused == ""
    wrong = {
        name: float(np.mean(loop(part, start)[fitted] > best[fitted] * (1 + WORSE)))
        for name, start in (("usual start", usual), ("no start", lambda x, y: None))
    }
    hard_fits, hard_best = fit_many(*hard), scanned(hard)
    hard_fitted = hard_fits.refused == ""
    wrong["usual start, hostile curves"] = float(
        np.mean(loop(hard, usual)[hard_fitted] > hard_fits.residual_sum_of_squares[hard_fitted] * (1 + WORSE))
    )
    return {
        "curves": curves,
        "seconds": round(ours, 3),
        "seconds_rows_in_any_order": round(unsorted, 3),
        "loop_seconds": round(theirs, 1),
        "ratio": round(theirs / ours, 1),
        "nist_digits": digits(),
        "refused": int(np.sum(~fitted)),
        "loop_wrong_share": wrong,
        "our_wrong_share": worse_share(fits, scanned(part)),
        "our_wrong_share_hostile": worse_share(hard_fits, hard_best),
    }


def main() -> None:
    """Print the measures, one a line, or as JSON."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--curves", type=int, default=100_000)
    parser.add_argument("--sample", type=int, default=2_000)
    parser.add_argument("--json", action="store_true")
    chosen = parser.parse_args()
    warnings.simplefilter("ignore", OptimizeWarning)
    warnings.simplefilter("ignore", RuntimeWarning)
    found = measured(chosen.curves, chosen.sample)
    written = json.dumps(found) if chosen.json else "\n".join(f"{name}: {value}" for name, value in found.items())
    sys.stdout.write(written + "\n")


if __name__ == "__main__":
    main()
