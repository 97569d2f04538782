"""The four targets: unit, the log scale each is forecast on, constraints, and the rule of common practice.

Every forecast has one shape, whatever its method: on the scale log(y + offset) it is a centre, a scale and
a ladder of scores. `TargetModel` holds it and turns it into kilograms or minutes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.drift_scan import Drift
from models.quote.base.conformal import ConformalDistribution
from models.quote.base.quote_result import Method, Target

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TargetSpec:
    """Facts of one target.

    `offset` (in `unit`) is added before the logarithm, so that a job without any debris has one. `rising`
    are features of which more may never lower the forecast. The rest is the typical rule, common practice
    without a source: `typical_fixed + typical_per_emitter · emitters`, times or divided by exp(log_sd), which is wide
    enough for the stock of any simulated world: nobody knows which of them a new firm's is like. With `may_be_zero`,
    jobs that gave nothing are an outcome of their own once there are enough of them.
    """

    target: Target
    unit: str
    offset: float
    rising: tuple[str, ...]
    typical_fixed: float
    typical_per_emitter: float
    typical_log_sd: float
    may_be_zero: bool = False


_BIGGER = ("system_volume_l", "emitter_count")

SPECS: Mapping[Target, TargetSpec] = MappingProxyType(
    {
        "magnetite_kg": TargetSpec(
            "magnetite_kg",
            "kg",
            0.02,
            # more steel, more years of corrosion, more fresh oxygen, more cold ends: never less magnetite
            (
                *_BIGGER,
                "mean_emitter_length_mm",
                "long_emitter_count",
                "age_years",
                "years_since_clean",
                "cold_count",
                "topups_per_year",
            ),
            0.0,
            0.12,
            1.4,
        ),
        "non_magnetic_kg": TargetSpec(
            "non_magnetic_kg",
            "kg",
            0.10,
            (*_BIGGER, "age_years", "years_since_clean", "known_building_debris"),
            0.0,
            0.02,
            1.2,
            may_be_zero=True,
        ),
        "flush_minutes": TargetSpec("flush_minutes", "min", 1.0, _BIGGER, 90.0, 20.0, 0.9),
        "site_minutes": TargetSpec("site_minutes", "min", 1.0, _BIGGER, 165.0, 20.0, 0.5),
    }
)

TYPICAL_EMITTERS = 10
"""An ordinary system, where the survey does not count the emitters (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """Centre and scale of the forecast on the log scale, each (n,)."""

    centre: Floats
    scale: Floats


class LocationScaleModel(Protocol):
    """Something that places requests on the log scale from their feature matrix (n, p)."""

    def place(self, x: Floats) -> Placement:
        """Centre and scale of each row."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Calibrated:
    """A forecast with its distribution: where it is centred, how far it spreads, the ladder of scores."""

    spec: TargetSpec
    placer: LocationScaleModel
    ladder: ConformalDistribution

    def to_unit(self, z: ArrayLike) -> Floats:
        """From the log scale to kg or min, never below 0."""
        return np.asarray(np.maximum(np.exp(np.asarray(z, dtype=float)) - self.spec.offset, 0.0))

    def quantiles(self, x: Floats, levels: ArrayLike) -> Floats:
        """Quantiles (n, k) in the target's unit of the requests `x` (n, p) at the levels (k,)."""
        return self.at(self.placer.place(x), self.ladder.quantiles(levels)[None, :])

    def at(self, placement: Placement, scores: Floats) -> Floats:
        """Values in the target's unit where the scores (1, k) or (n, k) put them."""
        return self.to_unit(placement.centre[:, None] + placement.scale[:, None] * scores)

    def scores_of(self, placement: Placement, y: ArrayLike) -> Floats:
        """Scores (n,) of observed values."""
        return np.asarray((to_log(self.spec, y) - placement.centre) / placement.scale)

    def pit(self, x: Floats, y: ArrayLike, draws: ArrayLike) -> Floats:
        """Randomised PIT (n,) of observed values, `draws` (n,) uniform in 0..1."""
        observed = np.asarray(y, dtype=float)
        scores = self.scores_of(self.placer.place(x), observed)
        return self.ladder.pit(scores, draws, at_floor=observed <= 0)

    def chance_above(self, x: Floats, limit: float) -> Floats:
        """Predictive probability (n,) that the target exceeds `limit`, in its unit."""
        scores = self.scores_of(self.placer.place(x), np.full(len(x), limit))
        return np.asarray(1.0 - self.ladder.share_below(scores))


@dataclass(frozen=True, slots=True, eq=False)
class TargetModel(Calibrated):
    """The shipped forecast of one target, with its method.

    `jobs` had the target known; the ladder is made of `calibration_jobs` of them (0: of a stated spread). `drift`
    tells whether the newest of them behaved as those before (None: too few to check). `borrowed` jobs of other firms
    have made the centre, besides the firm's own, while the ladder is its own (0: the model of all jobs in the book).
    """

    method: Method
    jobs: int
    calibration_jobs: int
    drift: Drift | None = None
    borrowed: int = 0


def to_log(spec: TargetSpec, y: ArrayLike) -> Floats:
    """log(y + offset), y in the target's unit; NaN stays NaN."""
    return np.asarray(np.log(np.asarray(y, dtype=float) + spec.offset))
