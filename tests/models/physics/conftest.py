"""Small invented houses for the networks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from models.physics import circuit_parts as parts
from models.physics.hydraulics import OnePipe, TwoPipe
from models.physics.losses import Tube
from models.physics.machine import Machine


@dataclass(frozen=True)
class Houses:
    """Random two-pipe and one-pipe systems with the tubes that they were made of; emitters present (jobs, 8)."""

    two_pipe: TwoPipe
    one_pipe: OnePipe
    machine: Machine
    present: np.ndarray
    common: tuple[Tube, ...]
    mains: Tube
    branches: Tube


@pytest.fixture(scope="package")
def houses() -> Houses:
    rng = np.random.default_rng(3)
    jobs, emitters = 120, 8
    present = np.arange(emitters) < rng.integers(2, emitters + 1, jobs)[:, None]
    hose, joint = parts.hoses(jobs), parts.connections(rng.choice(list(parts.CONNECTIONS), jobs))
    mains = parts.mains(rng.uniform(1, 6, (jobs, emitters)), rng.choice([13.6, 20.2], (jobs, 1)))
    tail_m, tail_bore_mm = rng.uniform(2, 12, (jobs, emitters)), rng.choice([8.6, 13.6], (jobs, 1))
    branches = parts.tails(tail_m, tail_bore_mm, rng.uniform(0.4, 1.1, present.shape))
    loop = Tube.of(rng.uniform(15, 40, jobs), 20.2, 8.0)
    return Houses(
        TwoPipe.of((hose, joint), mains, branches),
        OnePipe.of((hose, joint, loop), parts.loop_bypasses(1.0, 20.2, present), branches),
        Machine.with_hoses(rng.uniform(50, 120, jobs), 200e3, hose),
        present,
        (hose, joint),
        mains,
        branches,
    )
