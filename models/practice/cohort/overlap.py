"""Are the two groups comparable at all: trimming, effective sample sizes, balance before and after."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.confounders import BENDS, Known
from models.practice.results.audit_result import Balance, Overlap

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

LOWEST_CHANCE, HIGHEST_CHANCE = 0.05, 0.95
"""Jobs whose chance of the practice lies outside are left out: hardly any job alike was done the other way."""
MOST_TRIMMED = 0.5
FEWEST_EFFECTIVE = 30.0
"""Below these an effect is refused."""
_BINS = np.linspace(0.0, 1.0, 21)


def comparable(chance: Floats) -> Flags:
    """Jobs (n,) that stay."""
    return np.asarray((chance >= LOWEST_CHANCE) & (chance <= HIGHEST_CHANCE))


def kish(weight: Floats) -> float:
    """As many equally weighted jobs tell as much: (Σw)² / Σw²."""
    return float(weight.sum() ** 2 / (weight**2).sum()) if len(weight) else 0.0


def overlap(chance: Floats, a: Flags) -> Overlap:
    """Diagnostics of all jobs of a contrast, those trimmed included in the histograms."""
    keep = comparable(chance)
    counts = [tuple(int(n) for n in np.histogram(chance[a == way], _BINS)[0]) for way in (True, False)]
    return Overlap(
        trimmed_jobs=int((~keep).sum()),
        trimmed_share=float((~keep).mean()),
        effective_with=kish(1 / chance[keep & a]),
        effective_without=kish(1 / (1 - chance[keep & ~a])),
        propensity_low=LOWEST_CHANCE,
        propensity_high=HIGHEST_CHANCE,
        bin_edges=tuple(float(edge) for edge in _BINS),
        with_counts=counts[0],
        without_counts=counts[1],
    )


def why_not(found: Overlap, chance: Floats, a: Flags) -> str:
    """Empty where the groups are comparable enough, else the sentence that stands for the effect."""
    if found.trimmed_share > MOST_TRIMMED:
        return (
            f"{100 * found.trimmed_share:.0f} % of these jobs have no comparable job done the other way: what was "
            "done follows so closely from the house or the engineer that the two cannot be told "
            "apart."
        )
    least = min(found.effective_with, found.effective_without)
    if least < FEWEST_EFFECTIVE:
        return (
            f"Weighted to be alike, the smaller group is worth only {least:.0f} jobs; "
            f"{FEWEST_EFFECTIVE:.0f} are the least for an effect."
        )
    return ""


def balance(known: Known, rows: Flags | Ints, a: Flags, chance: Floats) -> tuple[Balance, ...]:
    """Standardised mean differences of every confounder before, and after trimming and weighting; largest first.

    Divided by the spread before (Austin 2009, Stat. Med. 28:3083), so that both speak of the same unit. A yes or no
    stands in the list as whether at all and as how much, the same column twice: told once.
    """
    x = known.x[rows]
    first, second = x[a], x[~a]
    spread = np.sqrt((first.var(axis=0) + second.var(axis=0)) / 2)
    keep = comparable(chance)
    ways = [(keep & a, 1 / chance), (keep & ~a, 1 / (1 - chance))]
    means = [np.average(x[inside], axis=0, weights=w[inside]) for inside, w in ways]
    with np.errstate(divide="ignore", invalid="ignore"):
        before = (first.mean(axis=0) - second.mean(axis=0)) / spread
        after = (means[0] - means[1]) / spread
    told = [
        Balance(known.known_as[at], known.label[at], float(before[at]), float(after[at]))
        for at in range(x.shape[1])
        if known.block[at] != BENDS
        and np.isfinite(before[at])
        and not (at + 1 < x.shape[1] and np.allclose(x[:, at], x[:, at + 1], rtol=0, atol=1e-9))
    ]
    return tuple(sorted(told, key=lambda each: -abs(each.before)))
