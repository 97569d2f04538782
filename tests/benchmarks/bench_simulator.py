"""How fast the simulator is, writing included, and how much faster than an adaptive solver job by job.

    python -m tests.benchmarks.bench_simulator [jobs] [csv|parquet|xlsx]

Prints jobs a second by the clock and by the processor, peak memory, and the ratio to one
`scipy.integrate.solve_ivp` (LSODA, relative tolerance 1e-6) a job on the same debris and heat equations with all
valves open. Ends with an error where the two disagree by more than `WATER_K` or `SHARE`. Run it by hand.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from dataclasses import astuple, replace
from pathlib import Path

import numpy as np

from synthetic_data.chunk import plan
from synthetic_data.crew.crew import ALL_OPEN
from synthetic_data.flush import flush, world
from synthetic_data.flush.continuous import Job, pools, solve, step_on
from synthetic_data.flush.flush_state import State
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks, simulate_to_folder
from synthetic_data.streams import stream

BATCH, SOLVED, MINUTES, HEATER_W = 1000, 20, 240, 1500.0
WATER_K, SHARE = 1.0, 0.03
"""Most that water [°C] and every pool [share of a job's debris] may differ between minute steps and solver."""


def whole(jobs: int, form: str) -> None:
    """Simulate into a temporary folder and say how long it took."""
    with tempfile.TemporaryDirectory() as folder:
        began, cpu = time.perf_counter(), time.process_time()
        written = simulate_to_folder(Path(folder) / "logs", jobs=jobs, seed=1, format=form)  # type: ignore[arg-type]
        seconds, busy = time.perf_counter() - began, time.process_time() - cpu
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rows = sum(written.rows.values())
    sys.stdout.write(f"{jobs} jobs as {form}: {seconds:.1f} s, {jobs / seconds:.0f} jobs/s by the clock, ")
    sys.stdout.write(f"{jobs / busy:.0f} by the processor ({busy:.1f} s), {rows} rows, peak {peak_mb:.0f} MB\n")


def all_open(jobs: int) -> tuple[world.World, State]:
    """A chunk whose crews open everything and never reach their set point, flow pointed."""
    s = next(simulate_chunks(SCENARIOS["usual"], jobs=jobs, seed=1)).setting
    plans = replace(plan(s), isolation=np.full(jobs, ALL_OPEN), set_point_c=np.full(jobs, 98.0))
    monday = np.zeros(jobs, dtype=np.int64)
    ready = world.prepare(stream(1, "flush"), s.houses, s.systems, plans, s.staff, s.parameters, monday)
    ready = replace(ready, heat_w=np.full(jobs, HEATER_W))
    state = world.first_state(ready, s.fouling, np.full(jobs, 20.0))
    flush.point_flow(state, ready, np.arange(jobs))
    return ready, state


def against_solver() -> float:
    """Time a batch of minute steps against the solver; returns how far they disagree, as a share of what is allowed."""
    ready, state = all_open(BATCH)
    rows = np.linspace(0, BATCH - 1, SOLVED).astype(int).tolist()
    began = time.process_time()
    exact = [solve(Job.of(ready, state, row), MINUTES) for row in rows]
    each_solved = (time.process_time() - began) / SOLVED
    began = time.process_time()
    step_on(ready, state, MINUTES)
    each_stepped = (time.process_time() - began) / BATCH
    found = [pools(state, row) for row in rows]
    kelvin = max(abs(a.water_c - b.water_c) for a, b in zip(exact, found, strict=True))
    share = max(
        np.abs(np.subtract(astuple(a), astuple(b)))[1:].max() / sum(astuple(a)[1:])
        for a, b in zip(exact, found, strict=True)
    )
    sys.stdout.write(f"{MINUTES} min of flushing, everything open: {1e3 * each_stepped:.3f} ms a job in a batch of ")
    sys.stdout.write(f"{BATCH}, {1e3 * each_solved:.0f} ms by solve_ivp: {each_solved / each_stepped:.0f} times ")
    sys.stdout.write("as fast; ")
    sys.stdout.write(f"largest difference {kelvin:.2f} K (allowed {WATER_K:g}), {share:.2%} of a job's debris ")
    sys.stdout.write(f"(allowed {SHARE:.0%}), {SOLVED} jobs compared\n")
    return max(kelvin / WATER_K, share / SHARE)


def main(jobs: int = 2000, form: str = "parquet") -> None:
    """Both, one after the other."""
    whole(jobs, form)
    if against_solver() > 1.0:
        raise SystemExit("minute steps and solver disagree by more than allowed")


if __name__ == "__main__":
    main(*(int(arg) if arg.isdigit() else arg for arg in sys.argv[1:]))  # type: ignore[arg-type]
