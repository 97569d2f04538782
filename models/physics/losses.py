"""Loss of head along hoses, connections, mains, tails, valves and emitters: Darcy–Weisbach plus minor losses.

A `Tube` says what is in a run: straight tube, fittings as K (velocity heads in that bore) and valves as Kv.
A `LossLaw` is the same with the constants worked out, so that a network can ask for loss and slope again
and again. Loss [Pa] is odd in the flow [L/min] and rises steadily, so a network has one solution.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.physics import friction
from models.physics.pipes import COPPER_ROUGHNESS_MM, kv_resistance, velocity_m_s
from pipeline.contract.units import MM_PER_M, PA_PER_BAR

Floats = NDArray[np.float64]

KV_WATER_KG_M3 = 1000.0
"""Density at which Kv is stated (IEC 60534-2-1) [kg/m³]."""

CV_PER_KV = 1.156099
"""Cv [US gal/min at 1 psi] of a valve of Kv 1 m³/h at 1 bar; IEC 60534-2-1."""

K_ELBOW, K_TEE_RUN, K_TEE_BRANCH, K_ENTRY, K_EXIT = 0.9, 0.4, 1.5, 0.5, 1.0
"""Velocity heads lost in fittings; usual handbook values, from memory (makes differ by half)."""


@dataclass(frozen=True, slots=True)
class Tube:
    """Runs of tube, broadcast to one shape.

    `length_m` [m] ≥ 0; `bore_mm` [mm] > 0; `minor_k` [velocity heads in that bore]; `kv_m3_h` [m³/h at 1 bar] of
    the valves in it, infinite for none; `roughness_mm` [mm]. ValueError for lengths or bores out of range.
    """

    length_m: Floats
    bore_mm: Floats
    minor_k: Floats
    kv_m3_h: Floats
    roughness_mm: Floats

    @classmethod
    def of(
        cls,
        length_m: ArrayLike,
        bore_mm: ArrayLike,
        minor_k: ArrayLike = 0.0,
        kv_m3_h: ArrayLike = np.inf,
        roughness_mm: ArrayLike = COPPER_ROUGHNESS_MM,
    ) -> Self:
        """Broadcast and check what is given."""
        given = (length_m, bore_mm, minor_k, kv_m3_h, roughness_mm)
        arrays = [np.array(a) for a in np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in given))]
        if np.any(arrays[0] < 0.0) or np.any(arrays[2] < 0.0):
            raise ValueError("length_m and minor_k must not be negative")
        if not (np.all(arrays[1] > 0.0) and np.all(arrays[3] > 0.0)):
            raise ValueError("bore_mm and kv_m3_h must be above 0")
        return cls(*arrays)


@dataclass(frozen=True, slots=True)
class LossLaw:
    """Constants of runs of tube, all of one shape; loss = (friction · f + fittings + valves) · flow².

    `velocity` [m/s per L/min], `diameter_m` [m]; `straight` L/d · v²/2 and `fittings` K · v²/2, both at 1 L/min
    [m²/s²]; `valves` [Pa/(L/min)²] at 1,000 kg/m³; `rough` for the friction factor.
    """

    velocity: Floats
    diameter_m: Floats
    straight: Floats
    fittings: Floats
    valves: Floats
    rough: friction.Roughness

    @classmethod
    def of(cls, tube: Tube) -> Self:
        """Work the constants out, once."""
        velocity, diameter_m = velocity_m_s(1.0, tube.bore_mm), tube.bore_mm / MM_PER_M
        half_square = 0.5 * velocity**2
        return cls(
            velocity,
            diameter_m,
            np.asarray(half_square * tube.length_m / diameter_m),
            np.asarray(half_square * tube.minor_k),
            kv_resistance(tube.kv_m3_h),
            friction.roughness(tube.roughness_mm / MM_PER_M / diameter_m),
        )

    def each(self, change: Callable[[Floats], Floats]) -> Self:
        """The same law with `change` applied to every array (a pick of some runs, swapped axes)."""
        rough = friction.Roughness(
            *(
                change(v)
                for v in (self.rough.haaland, self.rough.colebrook, self.rough.log_factor, self.rough.log_slope)
            )
        )
        own = (self.velocity, self.diameter_m, self.straight, self.fittings, self.valves)
        velocity, diameter_m, straight, fittings, valves = (change(v) for v in own)
        return type(self)(velocity, diameter_m, straight, fittings, valves, rough)

    def loss(self, flow_l_min: Floats, density_kg_m3: Floats, viscosity_pa_s: Floats) -> tuple[Floats, Floats]:
        """Loss [Pa] and its slope [Pa/(L/min)] at a flow [L/min] of either sign, of the law's shape.

        Water's density [kg/m³] and viscosity [Pa s] broadcast to it.
        """
        size = np.abs(flow_l_min)
        per_flow = self.velocity * self.diameter_m * (density_kg_m3 / viscosity_pa_s)
        reynolds = per_flow * size
        factor, slope = friction.factor_and_slope(reynolds, self.rough)
        square = self.fittings * density_kg_m3 + self.valves * (density_kg_m3 / KV_WATER_KG_M3)
        rub = self.straight * density_kg_m3
        laminar = reynolds <= friction.LAMINAR_RE
        line = 64.0 * rub / per_flow
        turbulent = rub * factor * size
        along = np.where(laminar, line, turbulent)
        steep = np.where(laminar, line, turbulent * (2.0 + slope))
        bend = square * size
        return (along + bend) * flow_l_min, steep + 2.0 * bend

    def square_law(self, density_kg_m3: Floats, factor: float = 0.035) -> Floats:
        """Rough resistance [Pa/(L/min)²] with one friction factor: where an iteration starts."""
        valves = self.valves * (density_kg_m3 / KV_WATER_KG_M3)
        return np.asarray((self.straight * factor + self.fittings) * density_kg_m3 + valves)


def series_kv_m3_h(*kv_m3_h: ArrayLike) -> Floats:
    """Kv [m³/h] of valves one after the other: 1/Kv² add up."""
    return np.asarray(sum(np.asarray(kv, dtype=np.float64) ** -2.0 for kv in kv_m3_h)) ** -0.5


def k_from_kv(kv_m3_h: ArrayLike, bore_mm: ArrayLike) -> Floats:
    """K [velocity heads in that bore, mm] of a valve of that Kv [m³/h]: 1.6·10⁹ d⁴ / Kv², d in m (Crane TP-410).

    Water at 1,000 kg/m³; the constant follows from K ρ v² / 2 = 10⁵ Pa at Kv.
    """
    diameter_m = np.asarray(bore_mm, dtype=np.float64) / MM_PER_M
    velocity = np.asarray(kv_m3_h, dtype=np.float64) / 3600.0 / (np.pi / 4.0 * diameter_m**2)
    return np.asarray(PA_PER_BAR / (0.5 * KV_WATER_KG_M3 * velocity**2))


def equivalent_diameters(k: ArrayLike, factor: ArrayLike) -> Floats:
    """Length of straight tube, in bores, that loses as much as K velocity heads at that friction factor: K / f."""
    return np.asarray(np.asarray(k, dtype=np.float64) / np.asarray(factor, dtype=np.float64))
