"""Flow to be expected through machine, hoses, connection and tails: the loss law of each, in series, in warm water.

Usual lengths stand for the house's own, and the smallest tail for all, so that it is rough on purpose.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.optimize import brentq

from models.catch.records.sensor_readings import Setup
from models.physics import circuit_parts
from models.physics.losses import LossLaw
from models.physics.pipes import copper_bore_mm
from models.physics.water import density_kg_m3, viscosity_pa_s

HEAD_PA = 2.0e5
"""Of a flushing machine with no flow (common practice, no source)."""
INNER_SHARE = 0.15
"""At least so much of the head is lost in the machine with its hoses joined (assumption)."""
MAIN_M, TAIL_M, THIN_TAIL_M = 15.0, 6.0, 12.0
"""Flow and return together, from the joint to an emitter (assumption); thin tails run from a manifold."""
THIN_BELOW_MM = 12.0
USUAL_TAIL_MM, USUAL_MAIN_MM, USUAL_CONNECTION = 15.0, 22.0, "pump_tails"
USUAL_HOSE_M, USUAL_HOSE_BORE_MM = 0.5 * circuit_parts.HOSE_M, circuit_parts.HOSE_BORE_MM
OPEN_IN_A_GROUP = 3
WATER_C, JOINED_C = 50.0, 15.0
"""Warmth of the water while flushing, and while the hoses were joined to each other."""
UNKNOWN_SHARE = 0.5
"""Thermostatic bodies among the valves, where nobody wrote their kind down (assumption)."""
LEAST_L_MIN = 1e-3


def expected_l_min(setup: Setup, open_count: int) -> float | None:
    """Flow [L/min] with so many emitters open side by side; None where the machine's own flow is not known, or with
    antifreeze in the water, whose viscosity is nobody's guess."""
    most = setup.machine_max_flow_l_min
    if not most or setup.has_antifreeze:
        return None
    return _expected(
        most,
        setup.hose_m or USUAL_HOSE_M,
        setup.hose_bore_mm or USUAL_HOSE_BORE_MM,
        setup.connection if setup.connection in circuit_parts.CONNECTIONS else USUAL_CONNECTION,
        setup.main_bore_mm or USUAL_MAIN_MM,
        setup.tail_bore_mm or USUAL_TAIL_MM,
        UNKNOWN_SHARE if setup.thermostatic_share is None else setup.thermostatic_share,
        open_count,
    )


@lru_cache(maxsize=4096)
def _expected(
    most: float,
    hose_m: float,
    hose_bore_mm: float,
    connection: str,
    main_mm: float,
    tail_mm: float,
    thermostatic_share: float,
    open_count: int,
) -> float:
    hoses = LossLaw.of(circuit_parts.hoses(1, 2.0 * hose_m, hose_bore_mm))
    tail_m = THIN_TAIL_M if tail_mm < THIN_BELOW_MM else TAIL_M
    kv = circuit_parts.emitter_kv_m3_h(thermostatic_share)
    whole = (
        circuit_parts.connections(np.array([connection])),
        circuit_parts.mains(np.array([MAIN_M]), copper_bore_mm(main_mm)),
    )
    tail = LossLaw.of(circuit_parts.tails(np.array([tail_m]), copper_bore_mm(tail_mm), kv))
    joined_pa = _loss_pa(hoses, most, JOINED_C)
    head_pa = max(HEAD_PA, joined_pa / (1.0 - INNER_SHARE))
    fall = (head_pa - joined_pa) / most**2
    ways = [hoses, *(LossLaw.of(tube) for tube in whole)]

    def left_pa(flow: float) -> float:
        lost = sum(_loss_pa(law, flow, WATER_C) for law in ways) + _loss_pa(tail, flow / max(open_count, 1), WATER_C)
        return head_pa - fall * flow**2 - lost

    # warm water runs easier than the cold that `most` was read with, and never half as easy again
    return float(brentq(left_pa, LEAST_L_MIN, 1.5 * most, xtol=1e-4))


def _loss_pa(law: LossLaw, flow_l_min: float, water_c: float) -> float:
    loss, _ = law.loss(np.array([flow_l_min]), density_kg_m3(water_c), viscosity_pa_s(water_c))
    return float(loss[0])
