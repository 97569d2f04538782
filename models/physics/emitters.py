"""Emitters: how much heat they give, how much water they hold, how much steel the water touches."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

RATED_EXCESS_K = 50.0
"""Rated condition of EN 442: 75/65/20 °C, mean excess temperature 50 K."""

PANEL_EXPONENT = 1.3
"""Usual exponent of steel panels (EN 442-2 type tests give about 1.2–1.4)."""

_PANEL_HEIGHTS_MM = (300.0, 400.0, 450.0, 500.0, 600.0, 700.0, 900.0)
_SINGLE_LOW_L_M = (1.5, 2.0, 2.2, 2.4, 2.8, 3.2, 4.1)
_SINGLE_HIGH_L_M = (2.0, 2.5, 2.8, 3.0, 3.5, 4.0, 5.0)

PANELS = {"panel_10": 1, "panel_11": 1, "panel_20": 2, "panel_21": 2, "panel_22": 2, "panel_33": 3}
"""Water-filled panels by kind."""

_OUTPUT_FACTORS = {
    "panel_10": 3.1, "panel_11": 4.1, "panel_20": 4.9, "panel_21": 5.8, "panel_22": 7.0, "panel_33": 8.8,
}  # fmt: skip


def output_ratio(excess_k: ArrayLike, exponent: float = PANEL_EXPONENT) -> NDArray[np.float64]:
    """Output as a share of the rated one at mean excess `excess_k` [K]: (excess / 50)^n, EN 442. 0 below 0 K.

    >>> round(float(output_ratio(30.0)), 3)
    0.515
    """
    return np.asarray((np.maximum(np.asarray(excess_k, dtype=np.float64), 0.0) / RATED_EXCESS_K) ** exponent)


def panel_output_w(kind: str, height_mm: ArrayLike, length_mm: ArrayLike) -> NDArray[np.float64]:
    """Estimated output [W] of a steel panel at 80/60/20 °C: 41 · k · L · (1 + 8 H), lengths in m.

    An estimate for unknown makes (engineeringtoolbox.com, heat emission from radiators), within some
    15 % of catalogues. `kind` one of `PANELS`; KeyError otherwise.
    """
    height_m = np.asarray(height_mm, dtype=np.float64) / 1000.0
    length_m = np.asarray(length_mm, dtype=np.float64) / 1000.0
    return np.asarray(41.0 * _OUTPUT_FACTORS[kind] * length_m * (1.0 + 8.0 * height_m))


def panel_contents_l(panels: ArrayLike, height_mm: ArrayLike, length_mm: ArrayLike) -> NDArray[np.float64]:
    """Water [L] in a steel panel emitter, middle of the usual range (± 13 %).

    `panels` 1, 2 or 3 water-filled panels; heights 300–900 mm, held at the ends outside. Typical
    ranges, from memory: contents differ between makes.
    """
    heights = np.asarray(height_mm, dtype=np.float64)
    low = np.interp(heights, _PANEL_HEIGHTS_MM, _SINGLE_LOW_L_M)
    high = np.interp(heights, _PANEL_HEIGHTS_MM, _SINGLE_HIGH_L_M)
    length_m = np.asarray(length_mm, dtype=np.float64) / 1000.0
    return np.asarray(np.asarray(panels) * 0.5 * (low + high) * length_m)


def panel_wetted_area_m2(panels: ArrayLike, height_mm: ArrayLike, length_mm: ArrayLike) -> NDArray[np.float64]:
    """Steel touched by water [m²]: two faces a panel (geometry; the waves of the sheet are left out)."""
    face_m2 = np.asarray(height_mm, dtype=np.float64) * np.asarray(length_mm, dtype=np.float64) * 1e-6
    return np.asarray(2.0 * np.asarray(panels) * face_m2)
