"""Boosted forecast: gradient boosting on the log scale, and a second one of how hard a job is to forecast.

The centre is least squares on log(y + offset) under monotone constraints, with who leads apart (`engineer_effects`).
The jobs are dealt out to folds, and each is forecast by a centre fitted on the other folds. The scale is learnt from
the absolute errors of those forecasts, so that it learns the house and not the fit, and their scores decide how wide an
interval is. The forecast that answers is fitted on all jobs.
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
Folds = NDArray[np.intp]

SCALE_FROM = 120
"""Jobs fitted from which the scale is learnt; below, every job is taken as equally hard."""

_SCALE_RANGE = 3.0

_FEW_JOBS, _MANY_JOBS = 300, 2000

_ROUNDS = (0, 5, 10, 20, 40, 80, 120, 160, 240)
_SEARCHED = 2
"""Folds that settle the rounds; the others are fitted with those alone, which saves a third of the time."""

LEAST_GAIN = 0.8
"""A fifth more jobs make a forecast no better than this: less would be luck of the folds."""

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
        return _within_range(self.spread.predict(x) / self.usual_error) * wider


@dataclass(frozen=True, slots=True, eq=False)
class CrossFitted:
    """The forecast fitted on n jobs, and centre and scale (n,) of each of them by forecasts fitted without it.

    The scale is wider by as much as those forecasts, of fewer jobs, err more than the one fitted on all (`gain`).
    """

    fitted: Boosted
    centre: Floats
    scale: Floats


def fit_boosted(spec: TargetSpec, x: Floats, y: Floats, folds: Folds, *, seed: int = 0) -> CrossFitted:
    """Centre and scale from n jobs: features (n, p), target (n,) in its unit, none missing, fold of each job (n,)."""
    z = to_log(spec, y)
    rounds, unseen = _out_of_fold(spec, x, z, folds, seed)
    errors = np.abs(z - unseen.centre)
    unnamed = _wider(errors, np.abs(z - unseen.centre + unseen.by_crew))
    crews, line, trees = _fit_centre(spec, x, z, rounds, seed)
    whole = line.predict(x) + crews.effect(x) + (0.0 if trees is None else trees.predict(x))
    more = 1.0 / gain(float(errors.mean()), unseen.on_all, float(np.abs(z - whole).mean()))
    crews = replace(crews, unnamed=unnamed)
    wider = more * np.where(unseen.is_known, 1.0, unnamed)
    if len(y) < SCALE_FROM:
        return CrossFitted(Boosted(line, crews, trees, None, 1.0), unseen.centre, wider)
    usual = float(np.median(errors)) + 1e-9
    aim, scale = errors + 0.05 * usual, np.empty(len(y))
    for fold in np.unique(folds):
        mine = folds == fold
        scale[mine] = _within_range(_fit_spread(x[~mine], aim[~mine], seed).predict(x[mine]) / usual)
    fitted = Boosted(line, crews, trees, _fit_spread(x, aim, seed), usual)
    return CrossFitted(fitted, unseen.centre, scale * wider)


def gain(unseen: float, on_all: float, whole: float) -> float:
    """Error of the forecast fitted on all jobs over that of the folds' on jobs that they had not seen, at most 1.

    The folds' own error, less by as much as the forecast of all jobs errs less on all of them than the folds' do: the
    correction of cross-validation by Burman (1989), Biometrika 76:503 (from memory). Mean absolute errors: `unseen` of
    each job by its fold, `on_all` of every fold's forecast on all jobs, `whole` of that of all jobs.
    """
    return float(np.clip((unseen + whole - on_all) / unseen, LEAST_GAIN, 1.0)) if unseen > 0 else 1.0


def _within_range(error: Floats) -> Floats:
    return np.asarray(np.clip(error, 1 / _SCALE_RANGE, _SCALE_RANGE))


def _wider(errors: Floats, without: Floats) -> float:
    """How much larger absolute errors (n,) are for a forecast that does not know who leads; never below 1."""
    return max(1.0, float(np.mean(without) / (np.mean(errors) + 1e-9)))


def calibrate(
    spec: TargetSpec, fitted: Boosted, residuals: Floats, scale: Floats, *, jobs: int
) -> tuple[TargetModel, Floats]:
    """The target's model with the ladder of m jobs, and their scores in that order.

    `residuals` (m,) are z less its centre, and `scale` (m,), by forecasts that had not seen the job.
    """
    shift = centred(residuals)
    scores = np.asarray((residuals - shift) / scale)
    ladder = ConformalDistribution.of(scores, float(np.std(scores)))
    return TargetModel(spec, replace(fitted, shift=shift), ladder, "boosted", jobs, len(scores)), scores


def _fit_centre(spec: TargetSpec, x: Floats, z: Floats, rounds: int, seed: int) -> tuple[Crews, Line, Trees | None]:
    """Who leads, line and so many rounds of trees, fitted on the jobs x (n, p), z (n,)."""
    crews = learn_crews(spec, x, z)
    rest = z - crews.effect(x)
    line = fit_line(x, rest, spec.rising, trust=LINE_TRUST)
    return crews, line, _fit_trees(spec, x, rest - line.predict(x), rounds, seed) if rounds else None


@dataclass(frozen=True, slots=True, eq=False)
class _OutOfFold:
    """Of n jobs, by forecasts without them: centre, the part of it that is who leads, whether they knew who leads; and
    `on_all`, the mean absolute error of each of these forecasts on all jobs, averaged over them."""

    centre: Floats
    by_crew: Floats
    is_known: NDArray[np.bool_]
    on_all: float = np.nan


def _out_of_fold(spec: TargetSpec, x: Floats, z: Floats, folds: Folds, seed: int) -> tuple[int, _OutOfFold]:
    """Rounds of boosting that forecast the first two folds best (0: the line alone), and each job by other folds."""
    most = 80 if len(z) < _FEW_JOBS else 120 if len(z) < _MANY_JOBS else _ROUNDS[-1]
    tried = [r for r in _ROUNDS if r <= most]
    found = _OutOfFold(np.empty(len(z)), np.empty(len(z)), np.empty(len(z), dtype=bool))
    first, rest = np.split(np.unique(folds), [_SEARCHED])
    staged = {fold: _stages(spec, x, z, folds == fold, tried, seed, found) for fold in first}
    squares = sum(((stages - z)[:, folds == fold] ** 2).sum(axis=1) for fold, stages in staged.items())
    best = int(np.argmin(squares))
    told = {fold: stages[best] for fold, stages in staged.items()}
    told |= {fold: _stages(spec, x, z, folds == fold, tried[best : best + 1], seed, found)[0] for fold in rest}
    for fold, centre in told.items():
        found.centre[folds == fold] = centre[folds == fold]
    on_all = float(np.mean([np.abs(z - centre).mean() for centre in told.values()]))
    return tried[best], replace(found, on_all=on_all)


def _stages(
    spec: TargetSpec, x: Floats, z: Floats, other: NDArray[np.bool_], tried: list[int], seed: int, found: _OutOfFold
) -> Floats:
    """Forecasts (k, n) of all jobs by those that are not `other` after each number of rounds tried; `found` has who
    leads of the others."""
    crews, line, trees = _fit_centre(spec, x[~other], z[~other], tried[-1], seed)
    found.by_crew[other], found.is_known[other] = crews.effect(x[other]), crews.knows(x[other])
    before = line.predict(x) + crews.effect(x)
    return before[None, :] if trees is None else before + _at_rounds(trees, x, tried)


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
