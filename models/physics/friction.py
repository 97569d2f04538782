"""Darcy friction factor of round tube, explicit, so that whole networks can be solved for thousands of jobs.

Three regimes joined without a step, so that Newton's method never meets one:

- laminar, Re ≤ 2,000: 64/Re (Hagen–Poiseuille);
- turbulent, Re ≥ 4,000: Haaland's formula (the form that CIBSE Guide C took over in 2007, from memory), then
  two substitutions into the Colebrook equation: within 0.04 % of Clamond's exact solution (`fluids`) over
  Re 4·10³–10⁸ and relative roughness 0–0.05;
- between: the cubic in ln Re that meets both sides in value and slope. `assumption`: no formula is agreed
  there, and real tubes jump about; it stays between the two laws and rises steadily.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

LAMINAR_RE = 2000.0
TURBULENT_RE = 4000.0

_LOG_SPAN = float(np.log(TURBULENT_RE / LAMINAR_RE))
_PER_DECADE = 2.0 / np.log(10.0)


@dataclass(frozen=True, slots=True)
class Roughness:
    """What relative roughness alone decides, worked out once a tube; all of one shape, dimensionless.

    `haaland` (e/3.7d)^1.11, `colebrook` e/3.7d, and the turbulent law where it begins (Re 4,000):
    `log_factor` ln f and `log_slope` d ln f / d ln Re.
    """

    haaland: Floats
    colebrook: Floats
    log_factor: Floats
    log_slope: Floats


def roughness(relative: ArrayLike) -> Roughness:
    """Constants of a tube of that roughness / bore [-], 0–0.05; any shape."""
    colebrook = np.asarray(relative, dtype=np.float64) / 3.7
    haaland = np.asarray(colebrook**1.11)
    factor, slope = _turbulent(np.full(colebrook.shape, TURBULENT_RE), haaland, colebrook)
    return Roughness(haaland, colebrook, np.asarray(np.log(factor)), slope)


def _turbulent(reynolds: Floats, haaland: Floats, colebrook: Floats) -> tuple[Floats, Floats]:
    """Factor and d ln f / d ln Re of the turbulent law."""
    root = -1.8 * np.log10(haaland + 6.9 / reynolds)
    viscous = 2.51 / reynolds
    root = -_PER_DECADE * np.log(colebrook + viscous * root)
    root = -_PER_DECADE * np.log(colebrook + viscous * root)
    pull = _PER_DECADE * viscous
    return np.asarray(root**-2.0), np.asarray(-2.0 * pull / (colebrook + viscous * root + pull))


def _between(log_re: Floats, tube: Roughness, at: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Factor and its logarithmic slope by the joining cubic (Hermite, in ln Re)."""
    t = (log_re - np.log(LAMINAR_RE)) / _LOG_SPAN
    start = np.log(64.0 / LAMINAR_RE)
    end, first, last = tube.log_factor[at], -_LOG_SPAN, tube.log_slope[at] * _LOG_SPAN
    square = 3.0 * (end - start) - 2.0 * first - last
    cube = 2.0 * (start - end) + first + last
    log_factor = start + t * (first + t * (square + t * cube))
    return np.exp(log_factor), (first + t * (2.0 * square + 3.0 * t * cube)) / _LOG_SPAN


def factor_and_slope(reynolds: Floats, tube: Roughness) -> tuple[Floats, Floats]:
    """Darcy factor f [-] above Re 2,000 and d ln f / d ln Re; at and below, the value and slope at Re 2,000.

    `reynolds` of the shape of `tube`. For `models.physics.losses`, where the laminar loss is a line in the flow.
    """
    raised = np.maximum(reynolds, TURBULENT_RE)
    factor, slope = _turbulent(raised, tube.haaland, tube.colebrook)
    low = reynolds < TURBULENT_RE
    if low.any():
        at = np.flatnonzero(low)
        flat = Roughness(
            *(
                np.broadcast_to(v, reynolds.shape).ravel()
                for v in (tube.haaland, tube.colebrook, tube.log_factor, tube.log_slope)
            )
        )
        log_re = np.log(np.maximum(reynolds.ravel()[at], LAMINAR_RE))
        factor.reshape(-1)[at], slope.reshape(-1)[at] = _between(log_re, flat, at)
    return factor, slope


def friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike) -> Floats:
    """Darcy friction factor [-] at Reynolds number > 0 and roughness / bore [-], broadcast together.

    ValueError for a Reynolds number that is not positive.

    >>> round(float(friction_factor(1e5, 0.0)), 4)
    0.018
    """
    re, relative = np.broadcast_arrays(
        np.asarray(reynolds, dtype=np.float64), np.asarray(relative_roughness, dtype=np.float64)
    )
    if np.any(re <= 0.0):
        raise ValueError("the Reynolds number must be above 0")
    shape = re.shape
    factor, _ = factor_and_slope(np.atleast_1d(re).copy(), roughness(np.atleast_1d(relative)))
    return np.asarray(np.where(re <= LAMINAR_RE, 64.0 / re, factor.reshape(shape)))
