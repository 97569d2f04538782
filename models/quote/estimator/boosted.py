"""Boosted forecast: gradient boosting on the log scale, and a second one of how hard a job is to forecast.

The centre is least squares on log(y + offset) under monotone constraints, with who leads apart (`engineer_effects`).
The scale comes from the absolute errors of jobs which the centre had not seen (two halves, each forecast from the
other), so that it learns the house and not the fit. The scores of later jobs then decide how wide an interval is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.quote.base.conformal import ConformalDistribution, centred
from models.quote.base.targets import Placement, TargetModel, TargetSpec, to_log
from models.quote.estimator.engineer_effects import ENGINEER, Crews, learn_crews
from models.quote.estimator.ridge_on_log import Line, fit_line
from models.quote.estimator.trees import Forest, Trees
from models.survey_features import FEATURE_NAMES, NAMED
from models.threads import threads_for

Floats = NDArray[np.float64]

SCALE_FROM = 120
"""Jobs fitted from which the scale is learnt; below, every job is taken as equally hard."""

_SCALE_RANGE = 3.0

_MANY_JOBS = 2000

_ROUNDS = (0, 5, 10, 20, 40, 80, 120, 160, 240)

LINE_TRUST = 0.5
"""Share of the line's weights that boosting starts from: between a line alone and trees alone, found on
simulated jobs to be better than either (absolute error on the log scale 3 to 5 % lower)."""


@dataclass(frozen=True, slots=True, eq=False)
class Boosted:
    """Centre, shift and scale on the log scale: line + crew + trees + shift; `trees` is None where none helped.

    `spread` forecasts the absolute error, 1 = `usual_error`; it is None while jobs are too few to learn it.
    The scale is kept within a factor of `_SCALE_RANGE` of the usual one.
    """

    line: Line
    crews: Crews
    trees: Trees | None
    spread: Trees | None
    usual_error: float
    shift: float = 0.0

    def centre(self, x: Floats) -> Floats:
        """Line + crew + trees (n,), before the shift."""
        known = self.line.predict(x) + self.crews.effect(x)
        return known if self.trees is None else known + self.trees.predict(x)

    def parts(self, x: Floats) -> Floats:
        """What each feature adds on the log scale besides the trees, (n, p); the line's intercept is apart."""
        parts = self.line.parts(x)
        parts[:, ENGINEER] += self.crews.effect(x)
        return parts

    def place(self, x: Floats) -> Placement:
        """Centre and scale of each row of the feature matrix (n, p)."""
        return Placement(self.centre(x) + self.shift, self.scale(x))

    def scale(self, x: Floats) -> Floats:
        """How hard each row is to forecast, 1 = as usual, (n,); harder where nobody known is to lead."""
        wider = self.crews.wider(x)
        if self.spread is None:
            return wider
        error = self.spread.predict(x) / self.usual_error
        return np.asarray(np.clip(error, 1 / _SCALE_RANGE, _SCALE_RANGE) * wider)


def fit_boosted(spec: TargetSpec, x: Floats, y: Floats, *, seed: int = 0) -> Boosted:
    """Centre and scale from n jobs: features (n, p), target (n,) in its unit, no missing target."""
    z = to_log(spec, y)
    rounds, forecast, by_crew = _from_the_other_half(spec, x, z, seed)
    errors = np.abs(z - forecast)
    crews = learn_crews(spec, x, z)
    crews = replace(crews, unnamed=_wider(errors, np.abs(z - forecast + by_crew)))
    rest = z - crews.effect(x)
    line = fit_line(x, rest, spec.rising, trust=LINE_TRUST)
    trees = _fit_trees(spec, x, rest - line.predict(x), rounds, seed) if rounds else None
    if len(y) < SCALE_FROM:
        return Boosted(line, crews, trees, None, 1.0)
    usual = float(np.median(errors)) + 1e-9
    return Boosted(line, crews, trees, _fit_spread(x, errors + 0.05 * usual, seed), usual)


def _wider(errors: Floats, without: Floats) -> float:
    """How much larger absolute errors (n,) are for a forecast that does not know who leads; never below 1."""
    return max(1.0, float(np.mean(without) / (np.mean(errors) + 1e-9)))


def calibrate(spec: TargetSpec, fitted: Boosted, x: Floats, y: Floats, *, jobs: int) -> tuple[TargetModel, Floats]:
    """The target's model with the ladder of later jobs x (m, p), y (m,), and their scores in that order."""
    z = to_log(spec, y)
    placer = replace(fitted, shift=centred(z - fitted.centre(x)))
    place = placer.place(x)
    scores = np.asarray((z - place.centre) / place.scale)
    ladder = ConformalDistribution.of(scores, float(np.std(scores)))
    return TargetModel(spec, placer, ladder, "boosted", jobs, len(y)), scores


def _from_the_other_half(spec: TargetSpec, x: Floats, z: Floats, seed: int) -> tuple[int, Floats, Floats]:
    """Rounds of boosting that forecast the other half best (0: the line alone), those forecasts (n,), and the part
    of them that is who leads (n,)."""
    half = np.arange(len(z)) % 2
    tried = [r for r in _ROUNDS if r <= 160 or len(z) >= _MANY_JOBS]
    staged, by_crew = np.empty((len(tried), len(z))), np.empty(len(z))
    for side in (0, 1):
        learn, other = half != side, half == side
        crews = learn_crews(spec, x[learn], z[learn])
        rest = z[learn] - crews.effect(x[learn])
        line = fit_line(x[learn], rest, spec.rising, trust=LINE_TRUST)
        trees = _fit_trees(spec, x[learn], rest - line.predict(x[learn]), tried[-1], seed)
        by_crew[other] = crews.effect(x[other])
        staged[:, other] = line.predict(x[other]) + by_crew[other] + _at_rounds(trees, x[other], tried)
    best = int(np.argmin(((staged - z) ** 2).mean(axis=1)))
    return tried[best], staged[best], by_crew


def _at_rounds(trees: Trees, x: Floats, tried: list[int]) -> Floats:
    """Forecast of the trees after each number of rounds tried (k,), as (k, n)."""
    stages = trees.forest.staged(x[:, trees.columns])
    return np.array([stages[r] if r else np.zeros(len(x)) for r in tried])


def _varying(x: Floats) -> NDArray[np.intp]:
    """Columns of amounts and words with two different known values or more; the first column if there is none."""
    low = np.min(x, axis=0, where=np.isfinite(x), initial=np.inf)
    high = np.max(x, axis=0, where=np.isfinite(x), initial=-np.inf)
    found = np.setdiff1d(np.flatnonzero(low < high), NAMED)
    return found if len(found) else np.arange(1)


def _fit_trees(spec: TargetSpec, x: Floats, rest: Floats, rounds: int, seed: int) -> Trees:
    """Trees for what the line leaves, (n,); features that may only rise are constrained."""
    from sklearn.ensemble import HistGradientBoostingRegressor

    columns = _varying(x)
    n = len(rest)
    model = HistGradientBoostingRegressor(
        max_iter=rounds,
        learning_rate=0.08,
        max_features=0.25,
        max_leaf_nodes=_leaves(n),
        min_samples_leaf=max(5, min(20, n // 12)),
        l2_regularization=1.0,
        monotonic_cst=[1 if FEATURE_NAMES[i] in spec.rising else 0 for i in columns],
        early_stopping=False,
        random_state=seed,
    )
    with threads_for(n):
        return Trees(Forest.of(model.fit(x[:, columns], rest)), columns)


def _leaves(n: int) -> int:
    """Leaves of a tree by the jobs it is fitted on: few jobs carry few distinctions."""
    if n < 150:
        return 4
    return 8 if n < _MANY_JOBS else 14


def _fit_spread(x: Floats, errors: Floats, seed: int) -> Trees:
    """Trees for the mean absolute error: gamma deviance, log link."""
    from sklearn.ensemble import HistGradientBoostingRegressor

    columns = _varying(x)
    model = HistGradientBoostingRegressor(
        loss="gamma",
        max_iter=40,
        learning_rate=0.08,
        max_leaf_nodes=4,
        min_samples_leaf=25,
        l2_regularization=5.0,
        early_stopping=False,
        random_state=seed,
    )
    with threads_for(len(x)):
        return Trees(Forest.of(model.fit(x[:, columns], errors)), columns)
