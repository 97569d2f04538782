"""Faults as the mechanism of a flush takes them: arrays, one entry a job, none by default."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Self

import numpy as np

from synthetic_data.house.house import Floats, Ints


@dataclass(frozen=True, slots=True)
class Defects:
    """What is wrong with a job, shape (jobs,) each. A load of sand is no defect but debris: see `fouling`.

    `from_min`: minute of the flush (from 1) at which late defects set in: bypass, connection, strainer, weep, trap.
    `bypass_kv_m3_h`: open way past all emitters, two-pipe and manifold only; 0 for none.
    `connection_kv_m3_h`: throttle in the joint of the hoses; infinite for none.
    `strainer_fill_per_h`: strainer capacities used up in an hour by fibres and flux that are not weighed.
    `weep_l_h`: water lost through a joint.
    `trap_filled_share`: share of the magnet's capacity that is taken up and never cleaned off, 0..1.
    `pump_ratio`: flow of the machine from then on against before.
    """

    from_min: Ints
    bypass_kv_m3_h: Floats
    connection_kv_m3_h: Floats
    strainer_fill_per_h: Floats
    weep_l_h: Floats
    trap_filled_share: Floats
    pump_ratio: Floats

    def __post_init__(self) -> None:
        faults = [
            item.name
            for item in fields(self)
            if np.any(np.isnan(getattr(self, item.name))) or np.any(getattr(self, item.name) < 0)
        ]
        if np.any(self.connection_kv_m3_h == 0):
            faults.append("connection_kv_m3_h")
        if faults or np.any(self.trap_filled_share > 1):
            raise ValueError(f"Defects out of range: {', '.join(faults) or 'trap_filled_share'}")

    @classmethod
    def none(cls, jobs: int) -> Self:
        """Nothing wrong anywhere."""
        zero = np.zeros(jobs)
        return cls(np.zeros(jobs, dtype=np.int64), zero, np.full(jobs, np.inf), zero, zero, zero, np.ones(jobs))

    @property
    def changes_flow(self) -> np.ndarray:
        """Jobs in which the solved network differs once the defect has set in."""
        return np.asarray((self.bypass_kv_m3_h > 0) | np.isfinite(self.connection_kv_m3_h))
