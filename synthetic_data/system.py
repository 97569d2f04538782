"""Pipework of a house: lengths, volume, and how much it resists the flow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.physics import pipes
from synthetic_data.house import COMBI, HEAT_ONLY, HEAT_PUMP, MICROBORE, ONE_PIPE, Floats, Houses
from synthetic_data.parameters import FlushParameters


@dataclass(frozen=True, slots=True)
class Systems:
    """Pipework, shape (jobs,) and (jobs, 26) for `branch_resistance` [Pa/(L/min)²]; volumes in litres."""

    main_length_m: Floats
    branch_length_m: Floats
    plastic_share: Floats
    source_l: Floats
    pipe_l: Floats
    volume_l: Floats
    main_resistance: Floats
    branch_resistance: Floats
    bypass_resistance: Floats


def build_systems(rng: np.random.Generator, houses: Houses, flush: FlushParameters) -> Systems:
    """Draw the pipework of every house. Lengths grow with the emitters (common practice, no source)."""
    jobs = len(houses.age_years)
    count = houses.emitter_count
    main_m = (7.0 + 1.1 * count) * np.exp(0.2 * rng.standard_normal(jobs))
    each_m = np.where(houses.layout == MICROBORE, 11.0, np.where(houses.layout == ONE_PIPE, 2.5, 5.5))
    branch_m = each_m * count * np.exp(0.2 * rng.standard_normal(jobs))
    plastic = np.where((houses.age_years < 25) & (rng.random(jobs) < 0.35), 1.0, 0.0)
    main_bore, tail_bore = pipes.copper_bore_mm(houses.main_bore_mm), pipes.copper_bore_mm(houses.tail_mm)
    pipe_l = main_m * pipes.contents_l_m(main_bore) + branch_m * pipes.contents_l_m(tail_bore[:, 0])
    source_l = np.where(houses.boiler_kind == HEAT_ONLY, 5.0, 3.5)
    source_l = np.where(houses.boiler_kind == COMBI, 2.5, source_l)
    source_l = np.where(houses.boiler_kind == HEAT_PUMP, 7.0, source_l)
    one_branch_m = (branch_m / count)[:, None] * np.exp(0.35 * rng.standard_normal(houses.present.shape))
    branch = pipes.square_law_resistance(one_branch_m, tail_bore) + pipes.kv_resistance(flush.valve_kv_m3_h)
    bypass = np.where(houses.layout == ONE_PIPE, pipes.kv_resistance(flush.one_pipe_bypass_kv_m3_h), np.inf)
    return Systems(
        main_length_m=np.asarray(main_m),
        branch_length_m=np.asarray(branch_m),
        plastic_share=plastic,
        source_l=source_l,
        pipe_l=pipe_l,
        volume_l=pipe_l + source_l + houses.contents_l.sum(axis=1),
        main_resistance=pipes.square_law_resistance(main_m * 0.5, main_bore),
        branch_resistance=branch,
        bypass_resistance=bypass,
    )
