"""Who leads: how far an engineer's jobs run above or below what the house and the plan lead to expect.

One amount an engineer on the log scale, drawn towards nought by how little is known of that engineer: best linear
unbiased predictions of a random effect, its variances by one-way analysis of variance (Searle, Casella and
McCulloch 1992, Variance Components, from memory). It is learnt in turns with a line of the other answers, because
engineers differ in what they plan too. A name that is not among those learnt adds nothing and widens the forecast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.quote.base.targets import TargetSpec
from models.quote.estimator.ridge_on_log import fit_line
from models.survey_features import NAME_CODES, POSITION, name_code
from pipeline.contract import DEFAULT_FIRM_ID

Floats = NDArray[np.float64]

ENGINEER = POSITION["engineer_id"]
"""The encoded column of who leads."""

_TURNS = 3
_ANY_FIRM = name_code(DEFAULT_FIRM_ID, "") // NAME_CODES
"""Firm of a request that names none."""


@dataclass(frozen=True, slots=True, eq=False)
class Crews:
    """Engineers by code, in order (k,), and what each adds on the log scale (k,).

    `unnamed` is how much wider the forecast is where none of them is to lead, 1 or more.
    """

    codes: Floats
    effects: Floats
    unnamed: float = 1.0

    def effect(self, x: Floats) -> Floats:
        """What who leads adds to each row (n, p) on the log scale, (n,)."""
        at = self._places(x)
        return np.where(at >= 0, self.effects[at], 0.0) if len(self.effects) else np.zeros(len(x))

    def knows(self, x: Floats) -> NDArray[np.bool_]:
        """Whether who leads each row (n, p) is among the engineers, (n,)."""
        return np.asarray(self._places(x) >= 0)

    def wider(self, x: Floats) -> Floats:
        """Factor of the width of each row (n, p), (n,): 1 where who leads is known."""
        return np.where(self.knows(x), 1.0, self.unnamed)

    def _places(self, x: Floats) -> NDArray[np.intp]:
        """Place of each row's engineer among the codes, -1: none of them."""
        if len(self.codes) == 0:
            return np.full(len(x), -1)
        asked = self._of_the_one_firm(x[:, ENGINEER])
        at = np.minimum(np.searchsorted(self.codes, asked), len(self.codes) - 1)
        return np.where(self.codes[at] == asked, at, -1)

    def _of_the_one_firm(self, asked: Floats) -> Floats:
        """The codes, those without a firm read as of the only firm on record."""
        firm = self.codes[0] // NAME_CODES
        if self.codes[-1] // NAME_CODES != firm:
            return asked
        return np.where(asked // NAME_CODES == _ANY_FIRM, firm * NAME_CODES + asked % NAME_CODES, asked)


def learn_crews(spec: TargetSpec, x: Floats, z: Floats) -> Crews:
    """What each engineer adds, from n jobs: features (n, p) and target on the log scale (n,)."""
    named = np.isfinite(x[:, ENGINEER])
    codes, group = np.unique(x[named, ENGINEER], return_inverse=True)
    crews = Crews(codes, np.zeros(len(codes)))
    if len(codes) < 2 or named.sum() <= len(codes):
        return crews
    for _ in range(_TURNS):
        line = fit_line(x, z - crews.effect(x), spec.rising)
        crews = Crews(codes, shrunk_means(z[named] - line.predict(x[named]), group))
    return crews


def shrunk_means(rest: Floats, group: NDArray[np.intp]) -> Floats:
    """Predicted random effect of each of k groups (k,), from values (n,) and their group 0..k−1, every one met."""
    count = np.bincount(group).astype(float)
    mean = np.bincount(group, weights=rest) / count
    n, k = len(rest), len(count)
    within = float(((rest - mean[group]) ** 2).sum()) / (n - k)
    squares = float((count * (mean - rest.mean()) ** 2).sum()) / (k - 1)
    between = max(0.0, (squares - within) / ((n - (count**2).sum() / n) / (k - 1)))
    if between == 0.0:
        return np.zeros(k)
    weight = 1 / (between + within / count)
    return np.asarray(between * weight * (mean - (weight @ mean) / weight.sum()))
