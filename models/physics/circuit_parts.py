"""Ready-made runs for the networks of `hydraulics`: hoses, connections, tails with their emitter, manifolds, loops.

Lengths and fittings of real houses differ; what is not given by the caller is `assumption` (common practice, no
source). Names of the connections are those of the job log.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.physics.losses import K_ELBOW, K_ENTRY, K_EXIT, K_TEE_BRANCH, K_TEE_RUN, Tube, series_kv_m3_h
from models.physics.pipes import COPPER_ROUGHNESS_MM, copper_bore_mm

EMITTER_VALVE_KV_M3_H = 1.3
"""Kv [m³/h] of one 15 mm emitter valve wide open; `assumption` (makes run from about 0.5 to 2)."""

BOTH_VALVES_KV_M3_H = float(series_kv_m3_h(EMITTER_VALVE_KV_M3_H, EMITTER_VALVE_KV_M3_H))
"""Kv [m³/h] of the two valves of an emitter, one after the other, both manual."""

THERMOSTATIC_KV_M3_H = 0.7
"""Kv [m³/h] of a thermostatic body with its head off; from memory: 0.5 to 0.9."""

HOSE_BORE_MM, HOSE_M, HOSE_ROUGHNESS_MM = 25.0, 12.0, 0.01
"""Both hoses together; `assumption`."""

EMITTER_K = K_ENTRY + K_EXIT + 1.0
HALF_DRAINED_K = EMITTER_K + 3.0
"""Velocity heads, in the tail, lost inside an emitter: full, and with its upper half drained; `assumption`."""


@dataclass(frozen=True, slots=True)
class Connection:
    """Where the hoses join: tube on the way [m, outside mm], fittings [K] and valves [Kv, m³/h]."""

    length_m: float
    outside_mm: float
    minor_k: float
    kv_m3_h: float


CONNECTIONS: Mapping[str, Connection] = {
    "boiler_flow_return": Connection(1.0, 22.0, 4.0 * K_ELBOW, np.inf),
    "pump_tails": Connection(2.0, 22.0, 6.0 * K_ELBOW, np.inf),
    "emitter_tails": Connection(8.0, 15.0, 8.0 * K_ELBOW + 2.0 * K_TEE_BRANCH, np.inf),
    "emitter_valves": Connection(8.0, 15.0, 8.0 * K_ELBOW + 2.0 * K_TEE_BRANCH, BOTH_VALVES_KV_M3_H),
    "microbore_tails": Connection(12.0, 10.0, 8.0 * K_ELBOW, np.inf),
}
"""Both sides of the joint together, by name in the job log; every figure an `assumption`."""


def emitter_kv_m3_h(thermostatic_share: ArrayLike) -> NDArray[np.float64]:
    """Kv [m³/h] of the two valves of an emitter, one after the other, of which one is a thermostatic body (share 1),
    manual (share 0), or something between over many.

    >>> round(float(emitter_kv_m3_h(1.0)), 3)
    0.616
    """
    body = series_kv_m3_h(THERMOSTATIC_KV_M3_H, EMITTER_VALVE_KV_M3_H)
    share = np.asarray(thermostatic_share, dtype=np.float64)
    return np.asarray(share * body + (1.0 - share) * BOTH_VALVES_KV_M3_H)


def hoses(jobs: int, length_m: ArrayLike = HOSE_M, bore_mm: ArrayLike = HOSE_BORE_MM) -> Tube:
    """Both hoses of the machine, shape (jobs,)."""
    return Tube.of(np.broadcast_to(length_m, (jobs,)), bore_mm, 2.0 * (K_ENTRY + K_EXIT), np.inf, HOSE_ROUGHNESS_MM)


def connections(names: NDArray[np.str_]) -> Tube:
    """The joints of the jobs, by name (jobs,); KeyError for a name that is not in `CONNECTIONS`."""
    parts = [CONNECTIONS[name] for name in names.tolist()]
    figures = np.array([(p.length_m, p.outside_mm, p.minor_k, p.kv_m3_h) for p in parts], dtype=np.float64)
    length, outside, minor, kv = figures.reshape(-1, 4).T
    return Tube.of(length, copper_bore_mm(outside), minor, kv)


def tails(
    length_m: ArrayLike,
    bore_mm: ArrayLike,
    kv_m3_h: ArrayLike = BOTH_VALVES_KV_M3_H,
    half_drained: ArrayLike = False,
    roughness_mm: ArrayLike = COPPER_ROUGHNESS_MM,
) -> Tube:
    """Both tails of each emitter [m together, mm bore] with tees, elbows, the two valves together [Kv] and the emitter.

    A throttled valve has a smaller Kv; a half-drained emitter is the narrower way.
    """
    inside = np.where(np.asarray(half_drained), HALF_DRAINED_K, EMITTER_K)
    return Tube.of(length_m, bore_mm, inside + 2.0 * K_TEE_BRANCH + 4.0 * K_ELBOW, kv_m3_h, roughness_mm)


def mains(length_m: ArrayLike, bore_mm: ArrayLike, roughness_mm: ArrayLike = COPPER_ROUGHNESS_MM) -> Tube:
    """Stretches of flow and return main between take-offs [m together, mm bore], each with its two tees run through."""
    length = np.asarray(length_m, dtype=np.float64)
    return Tube.of(length, bore_mm, np.where(length > 0.0, 2.0 * K_TEE_RUN, 0.0), np.inf, roughness_mm)


def manifold_mains(jobs: int, emitters: int) -> Tube:
    """No main between take-offs: every tail starts at one manifold, shape (jobs, emitters)."""
    return mains(np.zeros((jobs, emitters)), 20.0)


def loop_bypasses(length_m: ArrayLike, bore_mm: ArrayLike, present: ArrayLike) -> Tube:
    """Stretch of one-pipe loop beside each emitter, between its two tees; nothing where no emitter is `present`."""
    there = np.asarray(present, dtype=np.bool_)
    return Tube.of(np.where(there, length_m, 0.0), bore_mm, np.where(there, 2.0 * K_TEE_RUN, 0.0))
