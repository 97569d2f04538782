"""Networks solved a second, against `scipy.optimize.root` on the same equations. Run by hand; no test asserts a speed.

    python -m tests.benchmarks.bench_hydraulics [JOBS] [SAMPLE]

JOBS random systems of up to 26 emitters, each solved once a round: one emitter alone, groups of three, all open on two
pipes, all open on a loop. `root` solves a SAMPLE job by job from the same start (the square law's answer).
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import root

from models.physics import circuit_parts as parts
from models.physics.hydraulics import OnePipe, TwoPipe, solve_alone, solve_one_pipe, solve_two_pipe
from models.physics.losses import Tube
from models.physics.machine import Drive, Machine
from models.physics.network_steps import ladder_start

EMITTERS, ROUNDS, TEMP_C = 26, 5, 50.0


def systems(jobs: int, seed: int = 7) -> tuple[TwoPipe, OnePipe, Machine, np.ndarray]:
    """Random two-pipe (a fifth of them microbore) and one-pipe systems, their machines and emitters present."""
    rng = np.random.default_rng(seed)
    shape = (jobs, EMITTERS)
    present = np.arange(EMITTERS) < rng.integers(3, EMITTERS + 1, jobs)[:, None]
    micro = rng.random((jobs, 1)) < 0.2
    hose, joint = parts.hoses(jobs), parts.connections(rng.choice(list(parts.CONNECTIONS), jobs))
    mains = parts.mains(np.where(micro, 0.0, rng.uniform(1, 6, shape)), rng.choice([13.6, 20.2, 26.2], (jobs, 1)))
    bore_mm = np.where(micro, rng.choice([6.8, 8.6], (jobs, 1)), 13.6)
    branches = parts.tails(rng.uniform(2, 14, shape), bore_mm, rng.uniform(0.4, 1.1, shape))
    loop = Tube.of(rng.uniform(15, 40, jobs), 20.2, 8.0)
    machine = Machine.with_hoses(rng.uniform(50, 120, jobs), 200e3, hose)
    one = OnePipe.of((hose, joint, loop), parts.loop_bypasses(1.0, 20.2, present), branches)
    return TwoPipe.of((hose, joint), mains, branches), one, machine, present


def best_seconds(work: Callable[[], object]) -> float:
    """Least time of some rounds: the machine is shared."""
    times = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def rooted(network: TwoPipe, machine: Machine, opened: np.ndarray, jobs: np.ndarray) -> tuple[np.ndarray, float]:
    """Flows (sample, emitters) by `root`, job by job on the same losses, and the seconds taken."""
    flows, began = np.zeros((len(jobs), EMITTERS)), time.perf_counter()
    for row, job in enumerate(jobs):
        which = np.flatnonzero(opened[job])
        some = network.take(np.array([job]))
        drive = Drive.of(machine.take(np.array([job])), some.common, TEMP_C, 0.0)
        squares = (some.mains.square_law(drive.density), some.branches.square_law(drive.density))
        start = ladder_start(drive.machine.shutoff_pa, drive.square, *squares, opened[job][:, None])

        def unbalanced(unknown, some=some, drive=drive, which=which):
            flow = np.zeros((EMITTERS, 1))
            flow[which, 0] = unknown
            through = np.cumsum(flow[::-1], axis=0)[::-1]
            head = drive.at(through[0]).value - np.cumsum(drive.losses(some.mains, through).loss, axis=0)
            return (head - drive.losses(some.branches, flow).loss)[which, 0] / drive.machine.shutoff_pa

        found = root(unbalanced, start[which, 0], tol=1e-10)
        flows[row, which] = found.x if found.success else np.nan
    return flows, time.perf_counter() - began


def main(jobs: int = 2000, sample: int = 60) -> None:
    """Print solves a second, ratios and how far the answers lie apart."""
    network, one, machine, present = systems(jobs)
    rng = np.random.default_rng(1)
    emitter = rng.integers(0, present.sum(axis=1))
    alone = np.arange(EMITTERS) == emitter[:, None]
    group = present & (np.arange(EMITTERS) // 3 == emitter[:, None] // 3)
    picked = np.linspace(0, jobs - 1, min(sample, jobs)).astype(np.intp)
    lines = []
    for name, opened, work in (
        ("one at a time", alone, lambda: solve_alone(network, machine, emitter, TEMP_C)),
        ("groups of three", group, lambda: solve_two_pipe(network, machine, group, TEMP_C)),
        ("all open", present, lambda: solve_two_pipe(network, machine, present, TEMP_C)),
    ):
        rate = jobs / best_seconds(work)
        theirs, seconds = rooted(network, machine, opened, picked)
        ours = solve_two_pipe(network, machine, opened, TEMP_C).emitter_l_min[picked]
        apart = np.nanmax(np.abs(ours - theirs) / np.maximum(ours.sum(axis=1, keepdims=True), 1e-9))
        failed = int(np.isnan(theirs).any(axis=1).sum())
        slow = len(picked) / seconds
        lines.append(
            f"{name}: {rate:,.0f} jobs/s; root {slow:,.0f} jobs/s, ratio {rate / slow:,.0f}; "
            f"apart {apart:.1e} of the flow, root gave up on {failed} of {len(picked)}"
        )
    rate = jobs / best_seconds(lambda: solve_one_pipe(one, machine, present, TEMP_C))
    flows = solve_two_pipe(network, machine, present, TEMP_C)
    left = f"head left {flows.head_left.max():.1e}, mass {flows.mass_left.max():.1e}"
    lines += [f"loop, all open: {rate:,.0f} jobs/s", f"all open: {left} at most, {flows.iterations} steps"]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:3]))
