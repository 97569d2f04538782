"""Pipework of a house: runs by bore and length from a plausible layout, contents, where each emitter branches off.

Two-pipe: flow and return mains run from the heat source past every emitter in order of its number (floor by
floor), with risers. Microbore: mains to one manifold, long thin tails. One-pipe: one loop past all emitters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.physics import pipes
from synthetic_data.house.house import COMBI, HEAT_ONLY, HEAT_PUMP, MICROBORE, ONE_PIPE, TWO_PIPE, Flags, Floats, Houses
from synthetic_data.house.stock import LOOP_M, UNDERFLOOR
from synthetic_data.parameters import HouseParameters

STEEL_BORE_MM = 21.7
"""Medium tube of 26.9 mm (EN 10255, from memory)."""
LOOP_BORE_MM = 12.1
"""What holds 0.115 L/m."""
PLASTIC_WALL_MM = {8.0: 1.2, 10.0: 1.5, 15.0: 2.0}
"""Usual wall of plastic tails by outside diameter [mm]; BS 7291 and EN ISO 15875 sizes, from memory."""


@dataclass(frozen=True, slots=True)
class Systems:
    """Pipework, shape (jobs,), and (jobs, 26) by emitter; lengths in m, flow and return together.

    `source_run_m` main before the first take-off (one-pipe: loop between stations); `take_off_m` main from the
    take-off before to this one (one-pipe: loop between the tees of the emitter); `tail_m` both tails.
    `tank_l` water in the head tank, 0 for sealed systems.
    `main_length_m` and `branch_length_m` are what a tape would find. `has_barrier`: plastic that keeps oxygen out.
    """

    main_length_m: Floats
    branch_length_m: Floats
    source_run_m: Floats
    take_off_m: Floats
    tail_m: Floats
    main_bore_mm: Floats
    tail_bore_mm: Floats
    plastic_share: Floats
    has_barrier: Flags
    plastic_l: Floats
    source_l: Floats
    pipe_l: Floats
    volume_l: Floats
    tank_l: Floats
    heating_hours: Floats


def _tails(rng: np.random.Generator, houses: Houses, p: HouseParameters) -> tuple[Floats, Floats]:
    """Tails of each emitter [m], and all of them together."""
    count = houses.emitter_count
    each_m = np.where(houses.layout == MICROBORE, 11.0, np.where(houses.layout == ONE_PIPE, 2.5, 5.5))
    total_m = each_m * count * np.exp(0.2 * rng.standard_normal(len(count)))
    weight = np.exp(p.tail_spread_log * rng.standard_normal(houses.present.shape)) * houses.present
    share = weight / weight.sum(axis=1, keepdims=True)
    usual = (total_m / count)[:, None]
    return np.where(houses.present, share * total_m[:, None], usual), np.asarray(total_m)


def _mains(rng: np.random.Generator, houses: Houses, total_m: Floats, p: HouseParameters) -> tuple[Floats, Floats]:
    """Main before the first take-off [m], and from take-off to take-off; risers where a floor begins."""
    present, layout = houses.present, houses.layout[:, None]
    weight = np.exp(0.3 * rng.standard_normal(present.shape)) * present
    rises = np.diff(houses.floor, axis=1, prepend=houses.floor[:, :1]) > 0
    riser_m = np.where(rises & present, p.riser_m, 0.0)
    along_m = np.maximum((1.0 - p.source_run_share) * total_m - riser_m.sum(axis=1), 0.2 * total_m)
    two_pipe = weight / weight.sum(axis=1, keepdims=True) * along_m[:, None] + riser_m
    stretch = np.where(present, p.loop_stretch_m, 0.0)
    take_off = np.where(layout == TWO_PIPE, two_pipe, np.where(layout == ONE_PIPE, stretch, 0.0))
    return np.maximum(total_m - take_off.sum(axis=1), 1.0), np.asarray(take_off)


def _plastic(rng: np.random.Generator, houses: Houses, p: HouseParameters) -> tuple[Floats, Flags]:
    """Share of tails that is plastic (0 or 1), and whether it keeps oxygen out."""
    u = rng.random((2, len(houses.age_years)))
    is_plastic = (houses.age_years < 25) & (u[0] < p.plastic_share)
    has_barrier = ~((houses.age_years > 12) & (u[1] < p.no_barrier_share))
    return np.where(is_plastic, 1.0, 0.0), np.asarray(has_barrier)


def _tail_bore_mm(houses: Houses, plastic: Floats) -> Floats:
    sizes = list(PLASTIC_WALL_MM)
    wall = np.interp(houses.tail_mm, sizes, list(PLASTIC_WALL_MM.values()))
    thick = pipes.bore_mm(houses.tail_mm, wall)
    return np.where(plastic[:, None] > 0, thick, pipes.copper_bore_mm(houses.tail_mm))


def build_systems(rng: np.random.Generator, houses: Houses, p: HouseParameters) -> Systems:
    """Draw the pipework of every house. Lengths grow with the emitters (common practice, no source)."""
    jobs = len(houses.age_years)
    main_m = np.asarray((7.0 + 1.1 * houses.emitter_count) * np.exp(0.2 * rng.standard_normal(jobs)))
    tail_m, branch_m = _tails(rng, houses, p)
    source_run, take_off = _mains(rng, houses, main_m, p)
    plastic, has_barrier = _plastic(rng, houses, p)
    main_bore = np.where(houses.is_steel, STEEL_BORE_MM, pipes.copper_bore_mm(houses.main_bore_mm))
    tail_bore = _tail_bore_mm(houses, plastic)
    tail_l = branch_m * pipes.contents_l_m(tail_bore[:, 0])
    is_loop = houses.kind == UNDERFLOOR
    tail_m = np.where(is_loop, LOOP_M, tail_m)
    tail_bore = np.where(is_loop, LOOP_BORE_MM, tail_bore)
    length_m = source_run + take_off.sum(axis=1)
    pipe_l = length_m * pipes.contents_l_m(main_bore) + tail_l
    source_l = np.select(
        [houses.boiler_kind == HEAT_ONLY, houses.boiler_kind == COMBI, houses.boiler_kind == HEAT_PUMP],
        [5.0, 2.5, 7.0],
        3.5,
    )
    source_l = source_l + houses.buffer_l + houses.coil_l
    hours = (p.heating_hours * np.exp(p.heating_sd_log * rng.standard_normal(jobs))).clip(0, 24)
    return Systems(
        main_length_m=np.asarray(length_m),
        branch_length_m=branch_m,
        source_run_m=source_run,
        take_off_m=take_off,
        tail_m=tail_m,
        main_bore_mm=main_bore,
        tail_bore_mm=tail_bore,
        plastic_share=plastic,
        has_barrier=has_barrier,
        plastic_l=plastic * tail_l,
        source_l=source_l,
        pipe_l=pipe_l,
        volume_l=pipe_l + source_l + houses.contents_l.sum(axis=1),
        tank_l=np.where(houses.vented, p.tank_l, 0.0),
        heating_hours=hours,
    )
