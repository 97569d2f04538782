"""Boosted forecast: gradient boosting on the log scale, and a second one of how hard a job is to forecast.

The centre is least squares on log(y + offset) under monotone constraints. The scale comes from the
absolute errors of jobs which the centre had not seen (two halves, each forecast from the other), so that it
learns the house and not the fit. The scores of later jobs then decide how wide an interval is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from models.quote.conformal import Ladder, centred
from models.quote.features import FEATURE_NAMES
from models.quote.targets import Placement, TargetModel, TargetSpec, to_log

if TYPE_CHECKING:
    from sklearn.ensemble import HistGradientBoostingRegressor

Floats = NDArray[np.float64]

SCALE_FROM = 120
"""Jobs fitted from which the scale is learnt; below, every job is taken as equally hard."""

_SCALE_RANGE = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Trees:
    """Boosted trees and the columns of the feature matrix they read (those that varied when fitted)."""

    model: HistGradientBoostingRegressor
    columns: NDArray[np.intp]

    def predict(self, x: Floats) -> Floats:
        """Forecast (n,) of the rows of the whole feature matrix (n, p)."""
        if len(x) == 0:
            return np.zeros(0)
        return np.asarray(self.model.predict(x[:, self.columns]))


@dataclass(frozen=True, slots=True, eq=False)
class Boosted:
    """Centre, shift and scale on the log scale; `spread` is None while jobs are too few to learn it.

    `spread` forecasts the log of the absolute error less `spread_mean`; the scale is kept within a factor
    of two of the usual one.
    """

    centre: Trees
    spread: Trees | None
    spread_mean: float
    shift: float = 0.0

    def place(self, x: Floats) -> Placement:
        """Centre and scale of each row of the feature matrix (n, p)."""
        return Placement(self.centre.predict(x) + self.shift, self.scale(x))

    def scale(self, x: Floats) -> Floats:
        """How hard each row is to forecast, 1 = as usual, (n,)."""
        if self.spread is None:
            return np.ones(len(x))
        lean = self.spread.predict(x) - self.spread_mean
        return np.asarray(np.clip(np.exp(lean), 1 / _SCALE_RANGE, _SCALE_RANGE))


def fit_boosted(spec: TargetSpec, x: Floats, y: Floats, *, seed: int = 0) -> Boosted:
    """Centre and scale from n jobs: features (n, p), target (n,) in its unit, no missing target."""
    z = to_log(spec, y)
    centre = _fit_centre(spec, x, z, seed)
    if len(y) < SCALE_FROM:
        return Boosted(centre, None, 0.0)
    errors = np.abs(z - _from_the_other_half(spec, x, z, seed))
    lean = np.log(errors + 0.1 * float(np.median(errors)) + 1e-9)
    spread = _fit_spread(x, lean, seed)
    return Boosted(centre, spread, float(np.mean(lean)))


def calibrate(
    spec: TargetSpec, fitted: Boosted, x: Floats, y: Floats, *, jobs: int
) -> tuple[TargetModel, Floats]:
    """The target's model with the ladder of later jobs x (m, p), y (m,), and their scores in that order."""
    z = to_log(spec, y)
    shift = centred(z - fitted.centre.predict(x))
    placer = Boosted(fitted.centre, fitted.spread, fitted.spread_mean, shift)
    place = placer.place(x)
    scores = np.asarray((z - place.centre) / place.scale)
    ladder = Ladder.of(scores, float(np.std(scores)))
    return TargetModel(spec, placer, ladder, "boosted", jobs, len(y)), scores


def _from_the_other_half(spec: TargetSpec, x: Floats, z: Floats, seed: int) -> Floats:
    half = np.arange(len(z)) % 2
    forecast = np.empty(len(z))
    for side in (0, 1):
        model = _fit_centre(spec, x[half != side], z[half != side], seed)
        forecast[half == side] = model.predict(x[half == side])
    return forecast


def _varying(x: Floats) -> NDArray[np.intp]:
    """Columns that hold at least two different known values; the first column if there is none."""
    low = np.min(x, axis=0, where=np.isfinite(x), initial=np.inf)
    high = np.max(x, axis=0, where=np.isfinite(x), initial=-np.inf)
    found = np.flatnonzero(low < high)
    return found if len(found) else np.arange(1)


def _fit_centre(spec: TargetSpec, x: Floats, z: Floats, seed: int) -> Trees:
    from sklearn.ensemble import HistGradientBoostingRegressor

    columns = _varying(x)
    n, few = len(z), len(z) < 150
    model = HistGradientBoostingRegressor(
        max_iter=60 if few else 120,
        learning_rate=0.08,
        max_leaf_nodes=4 if few else 8,
        min_samples_leaf=max(5, min(20, n // 12)),
        l2_regularization=1.0,
        monotonic_cst=[1 if FEATURE_NAMES[i] in spec.rising else 0 for i in columns],
        early_stopping=False,
        random_state=seed,
    )
    return Trees(model.fit(x[:, columns], z), columns)


def _fit_spread(x: Floats, lean: Floats, seed: int) -> Trees:
    from sklearn.ensemble import HistGradientBoostingRegressor

    columns = _varying(x)
    model = HistGradientBoostingRegressor(
        max_iter=40,
        learning_rate=0.06,
        max_leaf_nodes=4,
        min_samples_leaf=30,
        l2_regularization=5.0,
        early_stopping=False,
        random_state=seed,
    )
    return Trees(model.fit(x[:, columns], lean), columns)
