"""A flush, minute by minute, for many jobs at once: heat, flow, release, catch, and when to move on.

The mechanism is numbered in `README.md`; the numbers come from `parameters.FlushParameters`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.physics.emitters import RATED_EXCESS_K
from models.physics.pipes import kv_resistance
from synthetic_data.crew import ALL_OPEN, GROUPS, Engineers, Plans
from synthetic_data.flush_state import (
    DONE,
    FLUSHING,
    MACHINE_BASE,
    MAGNET,
    RINSING,
    STRAINER,
    WHOLE_SYSTEM,
    Events,
    State,
)  # fmt: skip
from synthetic_data.fouling import Fouling
from synthetic_data.house import Floats, Houses, Ints
from synthetic_data.parameters import Parameters
from synthetic_data.system import Systems

GAS_J_MOL_K = 8.314
MOST_DAYS = 3
MOST_MINUTES = 1900
WATER_J_L_K = 4150.0
METAL_FACTOR = 1.25
"""Emitter with its steel against its water alone: 26 kg and some 4 L a kilowatt, rounded down."""
PIPE_LOSS_W_K = 25.0
MAINS_C = 11.0
FILL_SHARE = 0.3
"""Part of the flow that is fresh mains water while dumping to waste."""
GROUP_OF = 3


@dataclass(frozen=True, slots=True)
class World:
    """Everything about a chunk that stays the same during the flush; rows are the chunk's jobs."""

    houses: Houses
    systems: Systems
    plans: Plans
    parameters: Parameters
    station_of: Ints
    stations: Ints
    magnet_kg: Floats
    machine_l_min: Floats
    heat_w: Floats
    gain: Floats
    dose: Floats
    weigh_noise: Floats
    reading_start: Ints
    weekday: Ints


def prepare(
    rng: np.random.Generator, houses: Houses, systems: Systems, plans: Plans, staff: Engineers,
    parameters: Parameters, weekday: Ints,
) -> World:  # fmt: skip
    """Turn plans into what the minutes need: stations in order, heat, multipliers of release."""
    p = parameters.flush
    rank = np.argsort(np.argsort(plans.order_key, axis=1), axis=1)
    size = np.where(plans.isolation == GROUPS, GROUP_OF, np.where(plans.isolation == ALL_OPEN, 99, 1))
    boiler_w = np.minimum(houses.boiler_kw, p.boiler_flush_kw) * 1000.0 * np.isin(plans.heat_source, (1, 3))
    jobs = len(size)
    return World(
        houses, systems, plans, parameters, rank // size[:, None], -(-houses.emitter_count // size),
        staff.magnet_kg[plans.engineer], staff.machine_l_min[plans.engineer],
        boiler_w + 1000.0 * plans.heater_kw, method_gain(houses, plans, parameters),
        plans.dose_ratio ** (p.dose_exponent * p.practice_effect), rng.standard_normal((jobs, 256)),
        rng.integers(2, 9, jobs), weekday,
    )  # fmt: skip


def method_gain(houses: Houses, plans: Plans, parameters: Parameters) -> Floats:
    """Multiplier of lift by agitation, reversal and half draining, shape (jobs, 26)."""
    p = parameters.flush
    agitation = p.agitation_gain * np.array([0.0, 1.0, 1.0, 1.6])[plans.agitation]
    gain = (1 + agitation) * (1 + p.reversal_gain * plans.reversed)
    middle = np.minimum(1.0, 1200.0 / houses.length_mm) ** p.long_emitter_exponent
    by_length = np.argsort(np.argsort(np.where(houses.present, -houses.length_mm, np.inf), axis=1), axis=1)
    half = by_length < plans.half_drained[:, None]
    return np.asarray(gain[:, None] ** p.practice_effect * np.where(half, middle ** (1 - p.practice_effect), middle))


def first_state(world: World, fouling: Fouling, start_c: Floats) -> State:
    """The state when the flow begins: chemical has softened part, everything stands at `start_c`."""
    p, plans = world.parameters.flush, world.plans
    jobs, shape = len(plans.engineer), world.houses.present.shape
    soft = p.predose_softened * -np.expm1(-plans.predose_days / p.predose_days) * world.dose * p.practice_effect
    softened = fouling.consolidated_kg * np.minimum(soft, 0.9)[:, None]
    return State.start(
        shape, row=np.arange(jobs), offset_min=plans.start_min, rinse_left=plans.rinse_minutes, temp_c=start_c,
        return_c=start_c, chemical=np.ones(jobs), emitter_c=np.repeat(start_c[:, None], shape[1], axis=1),
        loose=fouling.loose_kg + softened, consolidated=fouling.consolidated_kg - softened,
        sand=fouling.sand_kg,
    )  # fmt: skip


def point_flow(s: State, world: World, rows: Ints) -> None:
    """Open the valves of the current station (all while rinsing) and work out flow and release there."""
    if len(rows) == 0:
        return
    p, j = world.parameters.flush, s.row[rows]
    present = world.houses.present[j]
    opened = present & ((world.station_of[j] == s.station[rows, None]) | (s.phase[rows, None] != FLUSHING))
    conductance = opened / np.sqrt(world.systems.branch_resistance[j])
    bypass = 1.0 / np.sqrt(world.systems.bypass_resistance[j])
    total = conductance.sum(axis=1) + bypass
    inner = p.machine_head_kpa * 1000.0 / world.machine_l_min[j] ** 2
    path = kv_resistance(world.plans.connection_kv[j]) + world.systems.main_resistance[j] + total**-2.0
    clear = world.machine_l_min[j] / np.sqrt(1 + path / inner)
    branch = clear[:, None] * conductance / total[:, None]
    s.open_now[rows], s.clear_flow_l_min[rows], s.branch_l_min[rows] = opened, clear, branch
    s.circuit_l[rows] = (
        p.machine_volume_l + world.systems.source_l[j] + 0.6 * world.systems.pipe_l[j]
        + (world.houses.contents_l[j] * opened).sum(axis=1)
    )  # fmt: skip
    if p.practice_effect < 1.0:
        branch = opened * p.reference_flow_l_min / np.maximum(opened.sum(axis=1), 1)[:, None]
        exponent = 1.0
    else:
        exponent = p.lift_flow_exponent
    relative = branch / p.reference_flow_l_min
    s.lift[rows] = p.lift_per_min * relative**exponent * world.gain[j]
    s.loosen[rows] = p.loosen_per_min * world.dose[j, None] * (
        p.loosen_floor + (1 - p.loosen_floor) * np.minimum(relative, 1.5))  # fmt: skip


def warm(s: State, world: World) -> None:
    """One minute of heat: source into the water, water into open emitters, emitters into the rooms.

    Mixing is implicit (end-of-minute water temperature), so that it neither overshoots nor makes heat.
    """
    p, j = world.parameters.flush, s.row
    contents = np.maximum(world.houses.contents_l[j], 0.1)
    emitter_j_k = contents * (WATER_J_L_K * METAL_FACTOR)
    shared_j_k = emitter_j_k * -np.expm1(-s.branch_l_min / contents)
    open_l = (world.houses.contents_l[j] * s.open_now).sum(axis=1)
    water_j_k = WATER_J_L_K * METAL_FACTOR * np.maximum(s.circuit_l - open_l, 8.0)
    set_point_c = world.plans.set_point_c[j]
    cooling_j = (shared_j_k * (set_point_c[:, None] - s.emitter_c)).sum(axis=1)
    wanted_j = (set_point_c - s.temp_c) * water_j_k + cooling_j
    given_j = np.where(s.phase == FLUSHING, np.clip(wanted_j, 0.0, world.heat_w[j] * 60.0), 0.0)
    given_j -= PIPE_LOSS_W_K * 60.0 * (s.temp_c - p.room_c)
    fresh = np.where(s.phase == RINSING, np.minimum(FILL_SHARE * s.flow_l_min / s.circuit_l, 0.5), 0.0)
    start_c = s.temp_c + fresh * (MAINS_C - s.temp_c) + given_j / water_j_k
    s.temp_c[:] = (start_c * water_j_k + (shared_j_k * s.emitter_c).sum(axis=1)) / (
        water_j_k + shared_j_k.sum(axis=1))  # fmt: skip
    moved_j = shared_j_k * (s.temp_c[:, None] - s.emitter_c)
    s.emitter_c += moved_j / emitter_j_k
    loss_w_k = world.houses.output_w[j] / RATED_EXCESS_K
    s.emitter_c -= np.minimum(loss_w_k * 60.0 / emitter_j_k, 0.2) * (s.emitter_c - p.room_c)
    drop_c = moved_j.sum(axis=1) / (np.maximum(s.flow_l_min, 1.0) * WATER_J_L_K)
    s.return_c[:] = np.clip(s.temp_c - drop_c, MAINS_C, s.temp_c)


def release(s: State, world: World) -> None:
    """One minute of loosening, lifting and settling, emitter by emitter."""
    p = world.parameters.flush
    inverse_k = (1.0 / 323.15 - 1.0 / (s.emitter_c + 273.15)) * 1000.0 / GAS_J_MOL_K * p.practice_effect
    loosened = s.consolidated * -np.expm1(-s.loosen * np.exp(p.loosen_kj_mol * inverse_k))
    s.consolidated -= loosened
    s.loose += loosened
    lifted = s.loose * -np.expm1(-s.lift * np.exp(p.lift_kj_mol * inverse_k))
    settled = s.carried * -np.expm1(-p.settle_per_min)
    s.loose += settled - lifted
    s.carried += lifted - settled
    sand_lifted = s.sand * -np.expm1(-s.lift * (p.sand_lift_per_min / p.lift_per_min))
    s.sand -= sand_lifted
    s.sand_carried += sand_lifted


def catch(s: State, world: World) -> None:
    """One minute of traps: magnet by what it still holds, strainer and base, and waste while rinsing."""
    p, j = world.parameters.flush, s.row
    filled = (s.sand_trap + s.strainer).sum(axis=1) / p.strainer_capacity_kg
    s.flow_l_min[:] = s.clear_flow_l_min / (1 + 0.5 * np.minimum(filled, 2.0))
    turns = np.maximum(s.flow_l_min / s.circuit_l, 1e-9)
    room = np.clip(1 - (s.magnet.sum(axis=1) / world.magnet_kg[j]) ** 2, 0.03, 1.0)
    magnet = turns * p.magnet_efficiency * room
    strainer = turns * p.strainer_share
    waste = np.where(s.phase == RINSING, FILL_SHARE * turns, 0.0)
    total = magnet + strainer + waste
    gone = s.carried * (-np.expm1(-total) / total)[:, None]
    s.carried -= gone * total[:, None]
    s.magnet += gone * magnet[:, None]
    s.strainer += gone * strainer[:, None]
    s.rinsed += gone * waste[:, None]
    trap = turns * p.sand_trap_share
    sand_total = trap + waste
    sand_gone = s.sand_carried * (-np.expm1(-sand_total) / sand_total)[:, None]
    s.sand_carried -= sand_gone * sand_total[:, None]
    s.sand_trap += sand_gone * trap[:, None]
    s.sand_rinsed += sand_gone * waste[:, None]
    s.chemical *= np.exp(-waste)


def _focus(s: State, world: World, rows: Ints) -> Ints:
    """Emitter that has the flow: a station of one while flushing; else the whole system."""
    single = (s.open_now[rows].sum(axis=1) == 1) & (s.phase[rows] == FLUSHING)
    return np.where(single, np.argmax(s.open_now[rows], axis=1), WHOLE_SYSTEM)


def read(s: State, world: World, minute: int, events: Events) -> None:
    """Take a reading where one is due."""
    every = round(world.parameters.log.reading_minutes)
    due = (minute - world.reading_start[s.row]) % every == 0
    rows = np.flatnonzero(due & (s.phase != DONE))
    events.readings.append((
        s.row[rows], s.offset_min[rows] + minute, _focus(s, world, rows), s.flow_l_min[rows], s.temp_c[rows],
        s.return_c[rows], (s.carried[rows].sum(axis=1) + s.sand_carried[rows].sum(axis=1)) * 1000.0
        / s.circuit_l[rows], s.chemical[rows],
    ))  # fmt: skip


def weigh(s: State, world: World, minute: int, rows: Ints, events: Events) -> Floats:
    """Clean the magnet of those jobs: an event each, and the wet mass as weighed [kg]."""
    j = s.row[rows]
    dry = s.magnet[rows].sum(axis=1)
    noise = world.weigh_noise[j, np.minimum(s.catches[rows], 255)]
    wet = dry * world.plans.wet_ratio[j] * np.exp(world.parameters.crew.weighing_sd_log * noise)
    events.weighings.append(
        (j, s.offset_min[rows] + minute, _focus(s, world, rows), np.full(len(rows), MAGNET), dry, wet))
    s.caught[rows] += s.magnet[rows]
    s.magnet[rows] = 0.0
    s.catches[rows] += 1
    s.since_weigh_min[rows] = 0.0
    return np.asarray(wet)


def empty_strainer(s: State, world: World, minute: int, rows: Ints, events: Events) -> None:
    """Open strainer and machine base where that crew does so: two weighings a job, whole system."""
    rows = rows[world.plans.strainer_checked[s.row[rows]]]
    held = s.sand_trap[rows].sum(axis=1) + s.strainer[rows].sum(axis=1)
    rows = rows[held > 0.004]
    j, held = s.row[rows], held[held > 0.004]
    wall, focus = s.offset_min[rows] + minute, np.full(len(rows), WHOLE_SYSTEM)
    for trap, share in ((STRAINER, 0.6), (MACHINE_BASE, 0.4)):
        noise = world.weigh_noise[j, 255 - trap - 2 * s.day[rows]]
        wet = held * share * 1.5 * np.exp(world.parameters.crew.weighing_sd_log * noise)
        events.weighings.append((j, wall, focus, np.full(len(rows), trap), held * share, wet))
    s.sand_caught[rows] += s.sand_trap[rows]
    s.strainer_caught[rows] += s.strainer[rows]
    s.sand_trap[rows] = 0.0
    s.strainer[rows] = 0.0

