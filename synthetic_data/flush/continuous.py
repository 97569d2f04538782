"""The same equations in continuous time, one job, valves as they are: what the minute steps stand for.

For checks only: `scipy.integrate.solve_ivp` on one job takes hundreds of times as long as its share of a batch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

from models.physics.corrosion import GAS_J_MOL_K
from models.physics.emitters import PANEL_EXPONENT, RATED_EXCESS_K
from models.physics.release import trap_efficiency
from synthetic_data.flush import flush
from synthetic_data.flush.flush_state import State
from synthetic_data.flush.network import BAND_EDGES_C, STATION
from synthetic_data.flush.release import CLASSES, OTHER
from synthetic_data.flush.world import LOOSENED_SHARES, PIPE_METAL_FACTOR, WATER_J_L_K, World, inverse_kelvin
from synthetic_data.house.house import Floats, Ints

RELATIVE_TOLERANCE, ABSOLUTE_TOLERANCE = 1e-6, 1e-9


@dataclass(frozen=True, slots=True)
class Pools:
    """Where a job stands: water [°C], and masses of the whole job [kg], all debris together but for the magnet."""

    water_c: float
    consolidated_kg: float
    loose_kg: float
    carried_kg: float
    caught_kg: float
    strained_kg: float


def step_on(world: World, state: State, minutes: int) -> State:
    """The minute steps of the simulator for all jobs in `state`, nobody moving, weighing or rinsing."""
    for minute in range(1, minutes + 1):
        flush.refresh(state, world, minute)
        flush.warm(state, world, minute)
        flush.release(state, world)
        flush.catch(state, world)
    return state


def pools(state: State, row: int) -> Pools:
    """One job of a state."""
    strained = state.strainer[row].sum() + state.sand_trap[row].sum()
    masses = state.consolidated[row], state.bed[row], state.water[row], state.magnet[row], strained
    return Pools(float(state.temp_c[row]), *(float(mass.sum()) for mass in masses))


@dataclass(frozen=True, slots=True)
class Job:
    """One job of a chunk with its valves as they are in `state` at `row`; `here`: the open emitters."""

    world: World
    state: State
    row: int
    here: Ints

    @classmethod
    def of(cls, world: World, state: State, row: int) -> Job:
        """The job at that row."""
        return cls(world, state, row, np.flatnonzero(state.open_now[row]))

    def start(self) -> Floats:
        """Water, open emitters [°C]; their consolidated, beds and carried [kg]; magnet, strainer [kg]."""
        s, r, here = self.state, self.row, self.here
        held = s.magnet[r].sum(), s.strainer[r].sum() + s.sand_trap[r].sum()
        return np.concatenate(
            [
                [s.temp_c[r]],
                s.emitter_c[r, here],
                s.consolidated[r, here],
                s.bed[r][:, here].ravel(),
                s.water[r][:, here].ravel(),
                held,
            ]
        )

    def split(self, y: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Emitters [°C], consolidated, beds and carried [kg] of a state vector."""
        n = len(self.here)
        bed, carried = np.split(y[1 + 2 * n : -2], 2)
        return y[1 : 1 + n], y[1 + n : 1 + 2 * n], bed.reshape(CLASSES, n), carried.reshape(CLASSES, n)


def rates(job: Job, y: Floats) -> Floats:
    """Derivatives of `Job.start` a minute."""
    world, j, p = job.world, int(job.state.row[job.row]), job.world.parameters
    emitter_c, baked, bed, carried = job.split(y)
    band = int(np.searchsorted(BAND_EDGES_C, y[0]))
    at = (band, STATION, j)
    ratio = float(1.0 / np.sqrt(1.0 + (y[-1] / p.flush.strainer_capacity_kg) ** 2))
    turns = world.flows.total[band, j, job.state.station[job.row]] * ratio / job.state.circuit_l[job.row]
    lift, drop = world.tables.lift[at][:, job.here], world.tables.drop[at][:, job.here]
    lift = flush.slowed_lift(lift[None], np.array([ratio]), p.release.lift_per_min, p.release.threshold_sd_log)[0]
    energy = p.release.loosen_kj_mol * 1000.0 / GAS_J_MOL_K * p.flush.practice_effect
    loosen = world.tables.loosen[at][job.here] * world.dose[j] * np.exp(energy * inverse_kelvin(emitter_c))
    kept = float(trap_efficiency(y[-2], world.magnet_kg[j], p.flush.magnet_efficiency, flush.LEAST_MAGNET))
    to_magnet = np.minimum(kept * np.array([p.flush.magnet_fine_ratio, 1.0, p.flush.magnet_flake_ratio, 0.0]), 1.0)
    to_strainer = np.array([p.flush.strainer_share] * OTHER + [p.flush.sand_trap_share])
    passing = carried.sum(axis=1) * turns
    away = carried * (turns * (to_magnet + to_strainer + drop.sum(axis=1)))[:, None]
    loosened, lifted = loosen * baked, lift * bed
    fresh = np.append(LOOSENED_SHARES, 0.0)[:, None] * loosened
    return np.concatenate(
        [
            heat_rates(job, float(y[0]), emitter_c, world.flows.branch[at][job.here] * ratio),
            -loosened,
            (fresh - lifted + passing[:, None] * drop).ravel(),
            (lifted - away).ravel(),
            [passing @ to_magnet, passing @ to_strainer],
        ]
    )


def heat_rates(job: Job, water_c: float, emitter_c: Floats, branch_l_min: Floats) -> Floats:
    """Kelvin a minute of the water and of the open emitters; the source gives all its power."""
    world, s, j = job.world, job.state, int(job.state.row[job.row])
    p, held_j_k = world.parameters.flush, s.emitter_j_k[job.row, job.here]
    always_l = s.circuit_l[job.row] - np.maximum(world.houses.contents_l[j, job.here], 0.1).sum()
    moved = branch_l_min * WATER_J_L_K * (water_c - emitter_c)
    excess = np.maximum(emitter_c - p.room_c, 0.0) / RATED_EXCESS_K
    lost = 60.0 * s.rated_w[job.row, job.here] * excess**PANEL_EXPONENT
    source = 60.0 * (world.heat_w[j] - p.pipe_loss_w_k * (water_c - p.room_c))
    water_j_k = WATER_J_L_K * PIPE_METAL_FACTOR * max(float(always_l), 8.0)
    return np.concatenate([[(source - moved.sum()) / water_j_k], (moved - lost) / held_j_k])


def solve(job: Job, minutes: int) -> Pools:
    """The job by `solve_ivp` (LSODA): open emitters only.

    Set points must be out of reach, for the source never turns itself down here.
    """
    found = solve_ivp(
        lambda _, y: rates(job, y),
        (0.0, float(minutes)),
        job.start(),
        method="LSODA",
        rtol=RELATIVE_TOLERANCE,
        atol=ABSOLUTE_TOLERANCE,
    )
    y = found.y[:, -1]
    _, baked, bed, carried = job.split(y)
    masses = baked.sum(), bed.sum(), carried.sum(), y[-2], y[-1]
    return Pools(float(y[0]), *(float(mass) for mass in masses))
