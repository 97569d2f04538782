"""Engineers compared fairly: observed against expected callbacks, with limits; never a ranking."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Place = Literal["too few jobs", "within limits", "fewer than expected", "more than expected"]


@dataclass(frozen=True, slots=True)
class EngineerPoint:
    """One engineer on the funnel: debris callbacks within the horizon, seen against expected from the jobs' mix.

    `ratio` = observed / expected; `low_95`.. are the limits at this engineer's `expected`, over-dispersion included;
    `shrunk_ratio` with its 95 % interval draws the ratio towards 1 by how little is known. `place` compares with the
    99.8 % limits, over-dispersion included. All but the counts of jobs are None below the number shown.
    Points are sorted by firm and id, so that no order says anything.
    """

    firm_id: str
    engineer_id: str
    jobs: int
    observed: int | None
    expected: float | None
    ratio: float | None
    risk: float | None
    adjusted_risk: float | None
    low_95: float | None
    high_95: float | None
    low_998: float | None
    high_998: float | None
    shrunk_ratio: float | None
    shrunk_low: float | None
    shrunk_high: float | None
    place: Place


@dataclass(frozen=True, slots=True, eq=False)
class Funnel:
    """All engineers, and the limits to draw: `grid` expected callbacks (points,), ratios (points,) at 95 and 99.8 %.

    `exact_*` are the interpolated exact limits, `wide_*` the same with over-dispersion; `phi` is the mean squared z
    after Winsorising, `tau` the spread between engineers on the ratio's scale; `is_over_dispersed` says whether
    `phi` exceeds what chance gives. Everything is empty where `refused` says why.
    """

    engineers: tuple[EngineerPoint, ...]
    overall_risk: float | None
    minimum_jobs: int
    grid: Floats
    exact_low_95: Floats
    exact_high_95: Floats
    exact_low_998: Floats
    exact_high_998: Floats
    wide_low_95: Floats
    wide_high_95: Floats
    wide_low_998: Floats
    wide_high_998: Floats
    phi: float | None
    tau: float | None
    is_over_dispersed: bool
    refused: str = ""
