"""A stock of houses made one-sided on purpose: what a scenario's numbers ask for, put on houses already drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.physics import emitters
from pipeline.contract.job_log import EMITTER_KINDS
from synthetic_data.house.house import HEAT_PUMP, Floats, Houses
from synthetic_data.parameters import HouseParameters

UNDERFLOOR = EMITTER_KINDS.index("underfloor_loop")
LOOP_M, LOOP_L_M, LOOP_W, LOOP_M2 = 80.0, 0.115, 900.0, 0.1
"""A loop: pipe [m], contents [L/m], output [W at 50 K], steel of its share of the manifold [m²] (assumption)."""
BLOCKED_FACTOR, STUCK_FACTOR = 0.01, 0.12
"""Of a valve's Kv: what is left of a way blocked outright, and of one whose pin is stuck (assumption)."""
BUFFER_L = 60.0


def one_sided(rng: np.random.Generator, houses: Houses, p: HouseParameters) -> Houses:
    """The same houses, some of them changed as `p` asks; nothing is changed where it asks for nothing."""
    u, v = rng.random((5, len(houses.age_years))), rng.random((2, *houses.present.shape))
    pump = u[0] < p.heat_pump_share
    stuck = houses.thermostatic & (v[0] < p.stuck_pin_share)
    blocked = v[1] < p.blocked_share
    factor = np.where(blocked, BLOCKED_FACTOR, np.where(stuck, STUCK_FACTOR, 1.0))
    changed = replace(
        houses,
        aluminium=houses.aluminium | (u[1] < p.aluminium_share),
        antifreeze=houses.antifreeze | (u[2] < p.antifreeze_share),
        is_steel=u[3] < p.steel_share,
        valve_factor=factor,
        boiler_kind=np.where(pump, HEAT_PUMP, houses.boiler_kind),
        boiler_kw=np.where(pump, np.maximum(_at_30_k_kw(houses), 4.0), houses.boiler_kw),
        buffer_l=np.where(pump & (u[0] < 0.8 * p.heat_pump_share), BUFFER_L, houses.buffer_l),
        coil_l=np.where(pump, 0.0, houses.coil_l),
    )
    return _with_loops(changed, u[4] < p.underfloor_share)


def _at_30_k_kw(houses: Houses) -> Floats:
    return np.asarray(np.round(houses.output_w.sum(axis=1) / 1000.0 * emitters.output_ratio(30.0) + 1.0))


def _with_loops(houses: Houses, chosen: np.ndarray) -> Houses:
    """Underfloor loops in the place of the emitters of the ground floor."""
    here = chosen[:, None] & (houses.floor == 0)
    only = here & houses.present
    return replace(
        houses,
        kind=np.where(here, UNDERFLOOR, houses.kind),
        tail_mm=np.where(here, 16.0, houses.tail_mm),
        contents_l=np.where(only, LOOP_M * LOOP_L_M, houses.contents_l),
        area_m2=np.where(only, LOOP_M2, houses.area_m2),
        output_w=np.where(only, LOOP_W, houses.output_w),
    )
