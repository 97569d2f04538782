"""A flush, minute by minute, for many jobs at once: heat, release, traps. When to move on is in `moves`.

The mechanism is numbered in `README.md`; the numbers come from `parameters.world_numbers`.
"""

from __future__ import annotations

import numpy as np

from models.physics.corrosion import GAS_J_MOL_K
from models.physics.emitters import PANEL_EXPONENT, RATED_EXCESS_K
from models.physics.release import trap_efficiency
from synthetic_data.flush.flush_state import DONE, FLUSHING, RINSING, State
from synthetic_data.flush.network import ALL, BAND_EDGES_C, STATION
from synthetic_data.flush.release import OTHER
from synthetic_data.flush.world import LOOSENED_SHARES, PIPE_METAL_FACTOR, WATER_J_L_K, World, inverse_kelvin
from synthetic_data.house.house import Floats, Ints

MOST_DAYS = 3
MOST_MINUTES = 1900
LOSS_EVERY_MIN = 5
"""Minutes between two looks at what the emitters lose per kelvin (it goes with the power 0.3 of the excess)."""

LEAST_MAGNET = 0.03
"""A full magnet still takes this share of what a clean one does (assumption)."""

PIPE_SHARE = 0.6
"""Part of the pipework that the circuit of a flush takes in, whatever is open (assumption)."""

STALE = -1
"""Band of a job whose valves have been turned: flow and rates are looked up before the next minute."""

_STALE_RATIO = 0.03
"""Change of the flow through a filling strainer at which rates are looked up again."""

_STRESS_POWER = 1.75
"""Wall stress goes with the flow to this power (Blasius)."""


ALL_ROWS = slice(None)


def point_flow(s: State, world: World, rows: Ints) -> None:
    """Open the valves of the current station (all while rinsing) and look up flow, lift and settling there."""
    if len(rows) == 0:
        return
    p, j, flushing = world.parameters, s.row[rows], s.phase[rows] == FLUSHING
    where = np.where(s.is_faulty[rows], world.flows.faulty_row[j], j)
    band, which = np.searchsorted(BAND_EDGES_C, s.temp_c[rows]), np.where(flushing, STATION, ALL)
    opened = world.houses.present[j] & ((world.station_of[j] == s.station[rows, None]) | ~flushing[:, None])
    clear = world.flows.total[band, where, np.where(flushing, s.station[rows], -1)]
    ratio = strainer_ratio(s, world, rows)
    branch = world.flows.branch[band, which, where] * opened
    s.band[rows], s.open_now[rows], s.clear_flow_l_min[rows], s.pointed_ratio[rows] = band, opened, clear, ratio
    contents = np.maximum(world.houses.contents_l[j], 0.1)
    held_j_k = s.emitter_j_k[rows]
    s.shared_j_k[rows] = held_j_k * -np.expm1(-branch * ratio[:, None] * WATER_J_L_K / held_j_k)
    always_l = p.flush.machine_volume_l + world.systems.source_l[j] + PIPE_SHARE * world.systems.pipe_l[j]
    s.circuit_l[rows] = always_l + by_job(contents * opened)
    lift = world.tables.lift[band, which, where] * opened[:, None, :]
    if ratio.min() < 1.0:
        lift = slowed_lift(lift, ratio, p.release.lift_per_min, p.release.threshold_sd_log)
    s.lift[rows] = -np.expm1(-lift)
    drop = world.tables.drop[band, which, where] * opened[:, None, :]
    s.drop_turn[rows] = np.einsum("nke->nk", drop)
    s.landing[rows] = drop / np.maximum(s.drop_turn[rows], 1e-300)[:, :, None]
    loosen = np.where(opened, world.tables.loosen[band, which, where], world.tables.loosen_shut)
    s.loosen[rows] = loosen * world.dose[j, None]


def slowed_lift(lift: Floats, ratio: Floats, most: float, sd_log: float) -> Floats:
    """Lift at `ratio` of the flow it was looked up at: the lognormal share of moving grains, in its logistic form."""
    odds = ratio ** (_STRESS_POWER * 1.702 / sd_log)
    share = np.minimum(lift / max(most, 1e-300), 0.999)
    slow = most * share * odds[:, None, None] / (1.0 - share + share * odds[:, None, None])
    return np.where(ratio[:, None, None] < 1.0, np.minimum(slow, lift), lift)


def strainer_ratio(s: State, world: World, rows: Ints | slice = ALL_ROWS) -> Floats:
    """Flow through a filling strainer against the clear one: as resistant as all the rest at its capacity; and what a
    failing pump still moves."""
    held_kg = by_job(s.sand_trap[rows] + s.strainer[rows])
    load = held_kg / world.parameters.flush.strainer_capacity_kg + s.clogged[rows]
    pump = np.where(s.is_faulty[rows], world.defects.pump_ratio[s.row[rows]], 1.0)
    return np.asarray(pump / np.sqrt(1.0 + load**2))


def refresh(s: State, world: World, minute: int) -> None:
    """Let defects set in, and look flows and rates up again where band, strainer or defect have changed them."""
    sets_in = world.defects.from_min[s.row] == minute
    s.is_faulty |= sets_in
    ratio = strainer_ratio(s, world)
    moved = np.abs(ratio - s.pointed_ratio) > _STALE_RATIO
    band = np.searchsorted(BAND_EDGES_C, s.temp_c)
    point_flow(s, world, np.flatnonzero((moved | (band != s.band) | sets_in) & (s.phase != DONE)))
    s.flow_l_min[:] = s.clear_flow_l_min * ratio


def warm(s: State, world: World, minute: int) -> None:
    """One minute of heat: source into the water, water into open emitters, emitters into the rooms.

    Mixing is implicit (end-of-minute water temperature), so that it neither overshoots nor makes heat. Emitters
    lose by EN 442, (excess / 50)^1.3, with the coefficient of the last look.
    """
    p, j = world.parameters.flush, s.row
    if minute % LOSS_EVERY_MIN == 1:
        excess = np.maximum(s.emitter_c - p.room_c, 0.0) / RATED_EXCESS_K
        s.loss_w_k[:] = s.rated_w / RATED_EXCESS_K * excess ** (PANEL_EXPONENT - 1.0)
    water_j_k = WATER_J_L_K * PIPE_METAL_FACTOR * np.maximum(s.circuit_l - open_contents_l(s, world), 8.0)
    set_point_c = world.plans.set_point_c[j]
    shared = by_job(s.shared_j_k)
    held = np.einsum("ne,ne->n", s.shared_j_k, s.emitter_c)
    wanted_j = (set_point_c - s.temp_c) * water_j_k + set_point_c * shared - held
    given_j = np.where(s.phase == FLUSHING, np.clip(wanted_j, 0.0, world.heat_w[j] * 60.0), 0.0)
    given_j -= p.pipe_loss_w_k * 60.0 * (s.temp_c - p.room_c)
    start_c = s.temp_c + rinse_share(s, world) * (p.mains_c - s.temp_c) + given_j / water_j_k
    s.temp_c[:] = (start_c * water_j_k + held) / (water_j_k + shared)
    moved_j = s.shared_j_k * (s.temp_c[:, None] - s.emitter_c)
    s.emitter_c += (moved_j - s.loss_w_k * 60.0 * (s.emitter_c - p.room_c)) / s.emitter_j_k
    drop_c = by_job(moved_j) / (np.maximum(s.flow_l_min, 1.0) * WATER_J_L_K)
    s.return_c[:] = np.clip(s.temp_c - drop_c, min(p.mains_c, p.room_c), np.maximum(s.temp_c, p.mains_c))


def open_contents_l(s: State, world: World) -> Floats:
    """Water in the emitters that are open now [L]."""
    p, systems = world.parameters.flush, world.systems
    always_l = p.machine_volume_l + systems.source_l[s.row] + PIPE_SHARE * systems.pipe_l[s.row]
    return np.asarray(s.circuit_l - always_l)


def rinse_share(s: State, world: World) -> Floats:
    """Part of the circuit's water that a minute of dumping to waste exchanges for mains water: in the rinse, and with
    the first water of a station where the crew does so."""
    p, plans = world.parameters.flush, world.plans
    fresh = np.minimum(plans.mains_l_min[s.row], s.flow_l_min) / np.maximum(s.circuit_l, 1.0)
    dumps = (s.phase == FLUSHING) & (s.focus_min < plans.dump_minutes[s.row])
    part = np.where(s.phase == RINSING, 1.0, np.where(dumps, p.dump_share, 0.0))
    return np.minimum(fresh, 0.5) * part


def release(s: State, world: World) -> None:
    """One minute of loosening and lifting, emitter by emitter and class by class."""
    p = world.parameters
    energy = p.release.loosen_kj_mol * 1000.0 / GAS_J_MOL_K * p.flush.practice_effect
    rate = s.loosen * np.exp(energy * inverse_kelvin(s.emitter_c))
    # 1 − e^(−x) to third order: x stays under 0.1, so within 4e-6 of it
    loosened = s.consolidated * (rate * (1.0 - rate * (0.5 - rate / 6.0)))
    s.consolidated -= loosened
    for number, share in enumerate(LOOSENED_SHARES.tolist()):
        s.bed[:, number] += share * loosened
    lifted = s.bed * s.lift
    s.bed -= lifted
    s.water += lifted


def catch(s: State, world: World) -> None:
    """One minute of the carried: magnet by what it holds, strainer and base, settling again, waste while rinsing."""
    p, j = world.parameters.flush, s.row
    s.clogged += world.defects.strainer_fill_per_h[j] / 60.0 * s.is_faulty
    s.weeped_l += world.defects.weep_l_h[j] / 60.0 * s.is_faulty
    turns = np.maximum(s.flow_l_min / s.circuit_l, 1e-9)
    capacity = world.magnet_kg[j]
    load = by_job(s.magnet) + world.defects.trap_filled_share[j] * s.is_faulty * capacity
    kept = trap_efficiency(load, capacity, p.magnet_efficiency, LEAST_MAGNET)
    by_class = np.array([p.magnet_fine_ratio, 1.0, p.magnet_flake_ratio, 0.0])
    rates = np.empty((4, len(j), OTHER + 1))
    rates[0] = np.minimum(kept[:, None] * by_class, 1.0) * turns[:, None]
    rates[1] = turns[:, None] * np.array([p.strainer_share] * OTHER + [p.sand_trap_share])
    rates[2] = s.drop_turn * turns[:, None]
    waste = rinse_share(s, world)
    rates[3] = waste[:, None]
    total = rates.sum(axis=0)
    _move(s, rates * (-np.expm1(-total) / total))
    s.chemical *= np.exp(-waste)


def _move(s: State, shares: Floats) -> None:
    """Take those shares (4 ways, rows, 4 classes) of the carried to magnet, strainer, beds and waste."""
    metal, other = s.water[:, :OTHER], s.water[:, OTHER]
    dropped = np.einsum("nk,nke->nk", shares[2], s.water)
    settled = np.einsum("nk,nke->nke", dropped, s.landing)
    s.bed += settled
    s.magnet += np.einsum("nk,nke->ne", shares[0, :, :OTHER], metal)
    s.strainer += np.einsum("nk,nke->ne", shares[1, :, :OTHER], metal)
    s.moved += np.einsum("nke->ne", settled[:, :OTHER]) - np.einsum("nk,nke->ne", shares[2, :, :OTHER], metal)
    s.sand_trap += shares[1, :, OTHER, None] * other
    s.sand_moved += settled[:, OTHER] - shares[2, :, OTHER, None] * other
    rows = np.flatnonzero(shares[3, :, OTHER] > 0.0)
    if len(rows):
        s.rinsed[rows] += np.einsum("nk,nke->ne", shares[3][rows, :OTHER], metal[rows])
        s.sand_rinsed[rows] += shares[3][rows, OTHER, None] * other[rows]
    s.water *= (1.0 - shares.sum(axis=0))[:, :, None]


def by_job(values: Floats) -> Floats:
    """Sum over emitters (rows, 26): several times as fast as `sum` along so short an axis."""
    return np.asarray(np.einsum("ne->n", values))
