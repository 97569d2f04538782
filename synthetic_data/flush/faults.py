"""Faults planted on purpose: which job has one, of which kind, from when, and how each enters the world."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from synthetic_data.crew.crew import Plans
from synthetic_data.flush.defects import Defects
from synthetic_data.house.fouling import Fouling
from synthetic_data.house.house import ONE_PIPE, Flags, Floats, Houses, Ints
from synthetic_data.parameters import FaultParameters

FAULTS = (
    "none",
    "one_pipe_bypass",
    "filling_strainer",
    "throttled_connection",
    "sand_load",
    "weeping_joint",
    "full_trap",
)
NONE, BYPASS, STRAINER_FILLS, THROTTLED, SAND, WEEP, FULL_TRAP = range(7)
_LATE_ONSET = (STRAINER_FILLS, WEEP)
"""Kinds that begin some time into the flush; the others are there from its start."""


@dataclass(frozen=True, slots=True)
class Faults:
    """One entry a job: kind (index into `FAULTS`), minutes after the flush began, how bad it is (about 1)."""

    kind: Ints
    from_minute: Ints
    strength: Floats

    def has(self, kind: int) -> Flags:
        """Jobs with that fault."""
        return np.asarray(self.kind == kind)


def draw_faults(rng: np.random.Generator, jobs: int, p: FaultParameters) -> Faults:
    """Choose the jobs, the kinds in equal parts, and when the late ones begin."""
    u, z = rng.random((2, jobs)), rng.standard_normal(jobs)
    kind = np.where(u[0] < p.faulty_share, rng.integers(1, len(FAULTS), jobs), NONE)
    late = np.isin(kind, _LATE_ONSET)
    return Faults(kind, np.where(late, 30 + 90 * u[1], 0).astype(np.int64), np.exp(0.25 * z))


def plant_in_house(houses: Houses, faults: Faults) -> Houses:
    """A one-pipe loop where everybody takes it for two-pipe: most of the flow goes past the emitters."""
    return replace(houses, layout=np.where(faults.has(BYPASS), ONE_PIPE, houses.layout))


def plant_in_fouling(fouled: Fouling, houses: Houses, faults: Faults, p: FaultParameters) -> Fouling:
    """Sand and cement in every emitter of the chosen houses."""
    each = p.sand_kg_per_emitter * faults.strength * faults.has(SAND)
    share = fouled.sand_kg / np.maximum(fouled.sand_kg.mean(axis=1, keepdims=True), 1e-12)
    load = each[:, None] * np.clip(share, 0.3, 2.0) * houses.present
    return replace(fouled, sand_kg=fouled.sand_kg + load, has_sand=fouled.has_sand | faults.has(SAND))


def plant_in_plans(plans: Plans, faults: Faults, p: FaultParameters) -> Plans:
    """A trap that nobody cleans in time."""
    full = faults.has(FULL_TRAP)
    seldom = p.full_trap_weighings * faults.strength.clip(0.6, 2.0)
    return replace(
        plans,
        weigh_minutes=np.where(full, plans.weigh_minutes * seldom, plans.weigh_minutes),
        full_share=np.where(full, 9.0, plans.full_share),
    )


def with_mishaps(rng: np.random.Generator, defects: Defects, is_free: Flags, p: FaultParameters) -> Defects:
    """What a scenario adds to jobs without a planted fault (`is_free`): a way left half open, a pump that fails, a
    pinhole or gland that cleaning opens."""
    u, onset = rng.random((3, len(is_free))), rng.integers(30, 180, len(is_free))
    half_open, fails, weeps = (
        is_free & (draw < share)
        for draw, share in zip(u, (p.half_open_share, p.pump_fails_share, p.weep_share), strict=True)
    )
    late = fails | weeps
    return replace(
        defects,
        from_min=np.where(late, onset, np.where(half_open, 1, defects.from_min)),
        bypass_kv_m3_h=np.where(half_open, p.half_open_kv_m3_h, defects.bypass_kv_m3_h),
        pump_ratio=np.where(fails, p.pump_ratio, defects.pump_ratio),
        weep_l_h=np.where(weeps, p.weep_l_h, defects.weep_l_h),
    )


def defects_of(faults: Faults, p: FaultParameters) -> Defects:
    """What the mechanism of the flush has to know: a throttled joint, a filling strainer, a weeping joint."""
    throttled = np.where(faults.has(THROTTLED), p.throttled_kv_m3_h * faults.strength, np.inf)
    return replace(
        Defects.none(len(faults.kind)),
        from_min=np.maximum(faults.from_minute, 1),
        connection_kv_m3_h=throttled,
        strainer_fill_per_h=p.strainer_fill_per_h * faults.strength * faults.has(STRAINER_FILLS),
        weep_l_h=p.weep_l_h * faults.strength * faults.has(WEEP),
    )
