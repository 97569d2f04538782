"""Effects shrunk towards none by as much as all of them together say: for whoever acts on those picked as the clearest.

Of many estimates those that get a verdict were helped by luck (the winner's curse). True differences are taken as
normal about 0, with a spread that the practices of one audit share; the spread has a uniform prior (Gelman 2006,
Bayesian Analysis 1:515) and is averaged over. What is then expected of one practice holds however it was picked.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
WIDEST = 4.0
"""Largest spread considered, in root mean squares of the estimates and their errors."""
STEPS = 401


def shrunk(differences: Floats, errors: Floats) -> tuple[Floats, Floats]:
    """Expected true differences (k,) and their standard deviations, from estimates (k,) with standard errors (k,)."""
    if not len(differences):
        return differences, errors
    widest = WIDEST * float(np.sqrt(np.mean(differences**2) + np.mean(errors**2)))
    spread = np.linspace(0.0, widest, STEPS)[:, None]
    total = spread**2 + errors**2
    log = -0.5 * (np.log(total) + differences**2 / total).sum(axis=1)
    chance = np.exp(log - log.max())
    chance = (chance / chance.sum())[:, None]
    kept = spread**2 / total
    mean = (chance * kept * differences).sum(axis=0)
    square = (chance * (kept * errors**2 + (kept * differences) ** 2)).sum(axis=0)
    return mean, np.sqrt(square - mean**2)
