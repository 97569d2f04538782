"""How the risk of a debris callback goes with the magnetite taken out: per kilogram, so per kilogram not left.

Kilograms caught alone would mislead: of two jobs alike on paper the one that gives more is the dirtier one, and keeps
more too. So only that part of the catch is used which comes from how the system was flushed (pre-dose, heat, isolation,
agitation, connection, reversal, half draining): two-stage least squares, with all that was known before, the engineer
and what was fitted or dosed afterwards taken out of every part first. It rests on the ways of flushing acting on
callbacks by the debris they take out and by nothing else, and on crews not choosing them by dirt that no survey shows.

It is told whether or not it is clear of 0: told only where it is, it would be too large. Instead it is shrunk: before
the records speak, the usual spread of catches is taken to move callbacks by about half of their risk either way, and
never to bring more of them. Refused where the ways move the catch too little.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import HORIZON_DAYS, Records
from models.practice.effects.doubly_robust import FEWEST_ENGINEERS, standard_error
from models.practice.effects.verdicts import Z
from models.practice.engineers.casemix import overall_outcomes
from models.practice.results.curve_results import RiskPerKg

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FLUSHING = (
    "predose_days",
    "isolation",
    "heat_source",
    "agitation",
    "connection",
    "flow_reversed",
    "half_drained_emitters",
)
FEWEST_JOBS, FEWEST_CALLBACKS = 300, 30
USUAL_SHARE = 0.5
"""Share of the risk that the usual spread of catches moves, one standard deviation before the records speak (a stated
choice, no source: at two of them it would move all of it)."""
WEAK = 10.0
"""F of the first stage below which instruments count as weak (Staiger & Stock 1997, Econometrica 65:557)."""


def risk_per_kg(records: Records) -> RiskPerKg:
    """From the records of an audit; refused rather than raised."""
    kg = records.frame["magnetite_kg"].to_numpy(dtype=float)
    rows = np.flatnonzero(~np.isnan(kg))
    seen = int((records.is_event & (records.days <= HORIZON_DAYS))[rows].sum())
    if len(rows) < FEWEST_JOBS or seen < FEWEST_CALLBACKS:
        return _refused(
            len(rows),
            0.0,
            None,
            f"{len(rows)} weighed jobs with {seen} debris callbacks are too few; "
            f"{FEWEST_JOBS} and {FEWEST_CALLBACKS} are the least.",
        )
    caught = np.minimum(kg[rows], np.quantile(kg[rows], 0.99))
    usual = float(np.diff(np.quantile(kg[rows], (0.1, 0.9)))[0]) / 2
    known = records.known.without_seen()
    is_way = np.array([name in FLUSHING for name in known.practice], dtype=bool)
    x, ways = known.x[rows][:, ~is_way], known.x[rows][:, is_way]
    parts = np.column_stack([caught, overall_outcomes(records)[rows], ways])
    unit = records.unit[rows]
    free = taken_out(parts, x, unit)
    slope, influence, strength = two_stage(free[:, 0], free[:, 1], free[:, 2:], x.shape[1] + records.engineers)
    strength = min(strength, effective_f(free[:, 0], free[:, 2:], unit))
    if strength < WEAK:
        return _refused(
            len(rows),
            usual,
            strength,
            "The ways of flushing moved the kilograms caught too little "
            f"(F {strength:.1f}, {WEAK:.0f} are wanted) to tell what a kilogram does.",
        )
    spread = USUAL_SHARE * float(parts[:, 1].mean()) / usual
    expected, error = shrunk_slope(slope, standard_error(influence, unit), spread)
    low, high = expected - Z * error, expected + Z * error
    return RiskPerKg(min(expected, 0.0), min(low, 0.0), high, HORIZON_DAYS, len(rows), usual, strength)


def shrunk_slope(slope: float, error: float, spread: float) -> tuple[float, float]:
    """What to expect of a slope that was normal about 0 with this spread before it was estimated, and how far off."""
    kept = spread**2 / (spread**2 + error**2)
    return kept * slope, float(np.sqrt(kept)) * error


def taken_out(parts: Floats, x: Floats, unit: Ints) -> Floats:
    """Residuals of each column of `parts` (n, k) after `x` (n, p) and an intercept for each unit (Frisch & Waugh)."""
    codes = np.unique(unit, return_inverse=True)[1]
    count = np.bincount(codes)
    both = np.column_stack([parts, x])
    means = np.column_stack([np.bincount(codes, column) / count for column in both.T])
    both = both - means[codes]
    y, rest = both[:, : parts.shape[1]], both[:, parts.shape[1] :]
    return np.asarray(y - rest @ np.linalg.lstsq(rest, y, rcond=None)[0])


def two_stage(dose: Floats, outcome: Floats, ways: Floats, used: int) -> tuple[float, Floats, float]:
    """Slope of outcome on dose by the instruments `ways` (n, q); influence (n,) of each row; F of the first stage.

    All less what else explains them, for which `used` degrees of freedom are gone.
    """
    fitted = ways @ np.linalg.lstsq(ways, dose, rcond=None)[0]
    slope = float(fitted @ outcome / (fitted @ dose))
    influence = fitted * (outcome - slope * dose) / float((fitted * dose).mean())
    rank = int(np.linalg.matrix_rank(ways)) if ways.size else 0
    left = max(len(dose) - used - rank, 1)
    spread = float(((dose - fitted) ** 2).sum()) / left
    return slope, influence, float((fitted**2).sum()) / max(rank, 1) / max(spread, 1e-12)


def effective_f(dose: Floats, ways: Floats, unit: Ints) -> float:
    """Strength of the first stage where jobs of one unit go together: effective F of Montiel Olea & Pflueger 2013
    (J. Bus. Econ. Stat. 31:358), clustered; infinite below ten units, where clusters tell no error."""
    codes = np.unique(unit, return_inverse=True)[1]
    count = int(codes.max(initial=-1)) + 1
    if count < FEWEST_ENGINEERS or not ways.size:
        return np.inf
    left, size, _ = np.linalg.svd(ways, full_matrices=False)
    basis = left[:, size > 1e-9 * size.max(initial=0.0)]
    moved = basis.T @ dose
    noise = basis * (dose - basis @ moved)[:, None]
    sums = np.column_stack([np.bincount(codes, column) for column in noise.T])
    return float((moved**2).sum() / max((sums**2).sum() * count / (count - 1), 1e-12))


def _refused(jobs: int, usual: float, strength: float | None, why: str) -> RiskPerKg:
    return RiskPerKg(None, None, None, HORIZON_DAYS, jobs, usual, strength, why)
