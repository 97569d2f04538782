"""How much a curve still holds after each of its weighings: quick sums for thousands of curves at once.

Grams caught are taken as counts with more scatter than counts have: with the pool profiled out, the chance of tau is
that of a multinomial over the intervals, its exponent divided by a lump of so many kilograms. Everything
is a running sum, so that the state after each weighing costs no more than the state after the last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.records.ragged_arrays import Floats, Ints

LEAST_KG = 0.004


@dataclass(frozen=True, slots=True)
class Pace:
    """Belief about tau [min] before the first catch, log-normal, and the lump [kg] in which debris comes."""

    tau_min: float
    spread: float
    lump_kg: float

    @property
    def taus(self) -> Floats:
        """Grid of tau over three spreads either side, shape (24,)."""
        return np.asarray(self.tau_min * np.exp(self.spread * np.linspace(-3.0, 3.0, 24)), dtype=float)


EMITTER_PACE = Pace(tau_min=16.0, spread=0.6, lump_kg=0.01)
HOUSE_PACE = Pace(tau_min=80.0, spread=0.8, lump_kg=0.02)


@dataclass(frozen=True, slots=True, eq=False)
class Prefix:
    """After each weighing, shape (weighings,): kilograms caught, to come per kilogram caught, mean log tau and
    mean square log tau."""

    caught: Floats
    to_come_share: Floats
    log_tau: Floats
    log_tau_square: Floats

    @property
    def to_come(self) -> Floats:
        """Kilograms that would still come if the flow stayed, shape (weighings,)."""
        return self.caught * self.to_come_share


def prefixes(before: Floats, after: Floats, kg: Floats, first: Ints, size: Ints, pace: Pace) -> Prefix:
    """State of each curve after each weighing; curves lie end to end, `first` and `size` of shape (curves,).

    before, after: minutes of the curve's own clock, kg: caught in between; shape (weighings,) each.
    """
    tau = pace.taus
    after = np.maximum(after, 1e-3)
    gained = np.exp(-before[:, None] / tau) - np.exp(-after[:, None] / tau)
    reached = -np.expm1(-after[:, None] / tau)
    heard = kg[:, None] * np.log(np.maximum(gained, 1e-12))
    caught = _running(kg, first, size)
    chance = (_running(heard, first, size) - caught[:, None] * np.log(reached)) / pace.lump_kg
    chance -= 0.5 * np.linspace(-3.0, 3.0, tau.size) ** 2
    weight = np.exp(chance - chance.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    log_tau = np.log(tau)
    share = (weight * (1.0 - reached) / reached).sum(axis=1)
    return Prefix(caught, share, weight @ log_tau, weight @ log_tau**2)


def _running(values: Floats, first: Ints, size: Ints) -> Floats:
    """Running sums that begin anew with each curve."""
    total = np.cumsum(values, axis=0)
    before = total[first] - values[first]
    return np.asarray(total - np.repeat(before, size, axis=0), dtype=float)
