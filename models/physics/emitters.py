"""Emitters: how much heat they give, how much water they hold, how much steel the water touches."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.contract.units import L_PER_M3, SECONDS_PER_MINUTE

RATED_EXCESS_K = 50.0
"""Rated condition of EN 442 (from memory): 75/65/20 °C, mean excess temperature 50 K."""

PANEL_EXPONENT = 1.3
"""Usual exponent of steel panels (EN 442-2 type tests give about 1.2–1.4)."""

_PANEL_HEIGHTS_MM = (300.0, 400.0, 450.0, 500.0, 600.0, 700.0, 900.0)
_SINGLE_LOW_L_M = (1.5, 2.0, 2.2, 2.4, 2.8, 3.2, 4.1)
_SINGLE_HIGH_L_M = (2.0, 2.5, 2.8, 3.0, 3.5, 4.0, 5.0)

PANELS = {"panel_10": 1, "panel_11": 1, "panel_20": 2, "panel_21": 2, "panel_22": 2, "panel_33": 3}
"""Water-filled panels by kind."""

_OUTPUT_FACTORS = {"panel_10": 2.4, "panel_11": 4.1, "panel_20": 4.9, "panel_21": 5.8, "panel_22": 7.0, "panel_33": 9.9}
"""Type 10 and type 33 from memory of catalogues (some 0.57 and 2.35 kW for 600 × 1,000 mm): the estimate's single panel
(3.1) gives a quarter too much, and its widest, 8.8, has three panels but two rows of fins. The others are its own."""


def output_ratio(excess_k: ArrayLike, exponent: float = PANEL_EXPONENT) -> NDArray[np.float64]:
    """Output as a share of the rated one at mean excess `excess_k` [K]: (excess / 50)^n, EN 442. 0 below 0 K.

    >>> round(float(output_ratio(30.0)), 3)
    0.515
    """
    return np.asarray((np.maximum(np.asarray(excess_k, dtype=np.float64), 0.0) / RATED_EXCESS_K) ** exponent)


def panel_output_w(kind: str, height_mm: ArrayLike, length_mm: ArrayLike) -> NDArray[np.float64]:
    """Estimated output [W] of a steel panel at 80/60/20 °C: 41 · k · L · (1 + 8 H), lengths in m.

    An estimate for unknown makes (engineeringtoolbox.com, heat emission from radiators; types 10 and 33: see
    `_OUTPUT_FACTORS`), within some 15 % of catalogues. `kind` one of `PANELS`; KeyError otherwise.
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


HEADER_AREA_MM2 = 450.0
"""Cross-section of one header of a steel panel [mm²]; `assumption` (some 30 mm × 15 mm inside)."""

HEADER_EXCHANGE_PER_M = 2.5
"""How readily water leaves the bottom header for the channels [1/m]; `assumption`, see `bottom_header_share`."""


def bottom_header_share(
    place: ArrayLike, length_mm: ArrayLike, exchange_per_m: ArrayLike = HEADER_EXCHANGE_PER_M
) -> NDArray[np.float64]:
    """Share of the flow that runs along the bottom header at `place` (0..1 from inlet to outlet), ½ to 1.

    Inlet and outlet at the two bottom ends, headers alike, losses linear in the flow: b/q = ½ (1 + cosh(k (x − L/2)) /
    cosh(k L/2)), with k² = 2 · header resistance · channel conductance per metre. Least in the middle, and
    the less the longer the emitter.
    """
    half_m = np.asarray(length_mm, dtype=np.float64) / 2000.0
    k = np.asarray(exchange_per_m, dtype=np.float64)
    off_middle_m = (2.0 * np.asarray(place, dtype=np.float64) - 1.0) * half_m
    return np.asarray(0.5 * (1.0 + np.cosh(k * off_middle_m) / np.cosh(k * half_m)))


def bottom_header_velocity_m_s(
    flow_l_min: ArrayLike,
    panels: ArrayLike,
    length_mm: ArrayLike,
    place: ArrayLike = 0.5,
    half_drained: ArrayLike = False,
    header_area_mm2: ArrayLike = HEADER_AREA_MM2,
) -> NDArray[np.float64]:
    """Velocity [m/s] along the bottom header at `place` (0..1, middle unless told) of a panel emitter.

    `flow_l_min` through the emitter, shared by its `panels`. Half drained, the top header is dry and all of the
    water goes along the bottom.
    """
    share = np.where(np.asarray(half_drained), 1.0, bottom_header_share(place, length_mm))
    flow_m3_s = np.asarray(flow_l_min, dtype=np.float64) / (L_PER_M3 * SECONDS_PER_MINUTE)
    return np.asarray(share * flow_m3_s / (np.asarray(panels) * np.asarray(header_area_mm2) * 1e-6))
