"""Simple peers of the boosted forecast, calibrated in the same way on the same jobs.

Per emitter: median per emitter × count. Group median: by system type and size band. Linear: ridge
regression on the log scale, missing answers filled with the median and flagged.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.quote.base.conformal import ConformalDistribution, centred
from models.quote.base.targets import Calibrated, LocationScaleModel, Placement, TargetSpec, to_log
from models.quote.estimator.groups import SIZE_BANDS, is_vented, size_band
from models.quote.estimator.rules import PerEmitter, per_emitter_rate
from models.survey_features import amounts
from models.threads import threads_for

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]

_LEAST_IN_CELL = 5


@dataclass(frozen=True, slots=True, eq=False)
class GroupMedian:
    """Median on the log scale of each cell (size band × system type); the overall one in thin cells."""

    medians: Floats

    def place(self, x: Floats) -> Placement:
        """Centre and unit scale of each row (n, p)."""
        return Placement(self.medians[cells(x)], np.ones(len(x)))


@dataclass(frozen=True, slots=True, eq=False)
class LinearPeer:
    """A ridge regression on the log scale, as a scikit-learn pipeline."""

    pipeline: Any

    def place(self, x: Floats) -> Placement:
        """Centre and unit scale of each row (n, p)."""
        return Placement(np.asarray(self.pipeline.predict(amounts(x)), dtype=float), np.ones(len(x)))


@dataclass(frozen=True, slots=True, eq=False)
class Shifted:
    """Another placer moved on the log scale, so that its median is that of the calibration jobs."""

    placer: LocationScaleModel
    shift: float

    def place(self, x: Floats) -> Placement:
        """Centre and scale of each row (n, p)."""
        place = self.placer.place(x)
        return Placement(place.centre + self.shift, place.scale)


def cells(x: Floats) -> Labels:
    """Cell of each row (n,): size band × system type, 0..5."""
    return size_band(x) * 2 + is_vented(x)


def fit_per_emitter(spec: TargetSpec, x: Floats, y: Floats) -> LocationScaleModel:
    """Median per emitter × count."""
    return PerEmitter(0.0, per_emitter_rate(x, y), spec.offset)


def fit_group_median(spec: TargetSpec, x: Floats, y: Floats) -> LocationScaleModel:
    """Median by size band and system type."""
    z, cell = to_log(spec, y), cells(x)
    overall = float(np.median(z))
    found = [z[cell == c] for c in range(2 * len(SIZE_BANDS))]
    return GroupMedian(np.array([float(np.median(v)) if len(v) >= _LEAST_IN_CELL else overall for v in found]))


def fit_linear(spec: TargetSpec, x: Floats, y: Floats) -> LocationScaleModel:
    """Ridge on the log scale; its strength by generalised cross-validation among five."""
    from sklearn.impute import SimpleImputer
    from sklearn.linear_model import RidgeCV
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    pipeline = make_pipeline(
        SimpleImputer(strategy="median", add_indicator=True, keep_empty_features=True),
        StandardScaler(),
        RidgeCV(alphas=(1.0, 10.0, 30.0, 100.0, 300.0)),
    )
    with threads_for(len(y)):
        return LinearPeer(pipeline.fit(amounts(x), to_log(spec, y)))


PEERS: Mapping[str, Callable[[TargetSpec, Floats, Floats], LocationScaleModel]] = MappingProxyType(
    {"per_emitter": fit_per_emitter, "group_median": fit_group_median, "linear": fit_linear}
)


def calibrated_peer(spec: TargetSpec, name: str, x: Floats, y: Floats, folds: Labels) -> Calibrated:
    """The peer fitted on n jobs, with the ladder of the same jobs, each forecast by the other folds (n,)."""
    placer, errors = PEERS[name](spec, x, y), np.empty(len(y))
    for fold in np.unique(folds):
        mine = folds == fold
        errors[mine] = to_log(spec, y[mine]) - PEERS[name](spec, x[~mine], y[~mine]).place(x[mine]).centre
    shift = centred(errors)
    return Calibrated(spec, Shifted(placer, shift), ConformalDistribution.of(errors - shift, float(np.std(errors))))
