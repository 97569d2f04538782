"""The groups of jobs in which a forecast must keep its promises: kind of system, size, survey water known or not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from models.quote.estimator.rules import emitters_of
from models.survey_features import POSITION

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]

SIZE_BANDS: tuple[tuple[str, float, float], ...] = (
    ("8 or fewer emitters", 0, 8),
    ("9 to 14 emitters", 9, 14),
    ("15 or more emitters", 15, np.inf),
)
"""Bands of the system's size, by emitters, both ends included."""


def size_band(x: Floats) -> Labels:
    """Index into `SIZE_BANDS` of each row (n,)."""
    return np.digitize(emitters_of(x), [8.5, 14.5])


def is_vented(x: Floats) -> NDArray[np.bool_]:
    """Whether each row is an open-vented system (n,)."""
    return np.asarray(x[:, POSITION["system_type=open_vented"]] == 1)


def groups_of(x: Floats) -> dict[str, NDArray[np.bool_]]:
    """The groups as masks (n,) over the feature rows (n, p)."""
    vented, band = is_vented(x), size_band(x)
    water = x[:, POSITION["water_known"]] == 1
    sealed = x[:, POSITION["system_type=sealed"]] == 1
    groups = {"sealed": sealed, "open-vented": vented}
    groups |= {name: band == i for i, (name, _, _) in enumerate(SIZE_BANDS)}
    return groups | {"water known at survey": water, "water not known at survey": ~water}
