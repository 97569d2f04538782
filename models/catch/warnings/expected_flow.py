"""Flow to be expected through machine, hoses, connection and tails, from elementary losses in series.

Rough on purpose: one friction factor, usual lengths, and the smallest tail for all. Against the readings of normal
simulated jobs the middle ratio is 1.0 and nine in ten lie between 0.8 and 1.2, whatever the tails.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from models.catch.records.sensor_readings import Setup
from models.physics import circuit_parts
from models.physics.losses import LossLaw, Tube
from models.physics.pipes import copper_bore_mm

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
WATER_KG_M3 = np.array([988.0])  # at 50 degrees, IAPWS-IF97


def expected_l_min(setup: Setup, open_count: int) -> float | None:
    """Flow [L/min] with so many emitters open side by side; None where the machine's own flow is not known."""
    most = setup.machine_max_flow_l_min
    if not most:
        return None
    return _expected(
        most,
        setup.hose_m or USUAL_HOSE_M,
        setup.hose_bore_mm or USUAL_HOSE_BORE_MM,
        setup.connection if setup.connection in circuit_parts.CONNECTIONS else USUAL_CONNECTION,
        setup.main_bore_mm or USUAL_MAIN_MM,
        setup.tail_bore_mm or USUAL_TAIL_MM,
        open_count,
    )


@lru_cache(maxsize=4096)
def _expected(
    most: float, hose_m: float, hose_bore_mm: float, connection: str, main_mm: float, tail_mm: float, open_count: int
) -> float:
    hoses = _square(circuit_parts.hoses(1, 2.0 * hose_m, hose_bore_mm))
    joint = _square(circuit_parts.connections(np.array([connection])))
    main = _square(circuit_parts.mains(np.array([MAIN_M]), copper_bore_mm(main_mm)))
    tail_m = THIN_TAIL_M if tail_mm < THIN_BELOW_MM else TAIL_M
    tail = _square(circuit_parts.tails(np.array([tail_m]), copper_bore_mm(tail_mm)))
    head_pa = max(HEAD_PA, hoses * most**2 / (1.0 - INNER_SHARE))
    inside = head_pa / most**2 - hoses
    return float(np.sqrt(head_pa / (inside + hoses + joint + main + tail / max(open_count, 1) ** 2)))


def _square(tube: Tube) -> float:
    """Pascals per (L/min) squared."""
    return float(LossLaw.of(tube).square_law(WATER_KG_M3)[0])
