"""START HERE: from a scenario and a seed to a job-log folder and a truth file beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.findings import BadInput
from synthetic_data import aftercare, crew, flush, fouling, house, moves, system
from synthetic_data.diary import Diary, make_diary
from synthetic_data.flush_state import Flush
from synthetic_data.logbook import Chunk
from synthetic_data.logbook_jobs import write_tables
from synthetic_data.parameters import Parameters
from synthetic_data.scenarios import SCENARIOS, Scenario
from synthetic_data.streams import stream
from synthetic_data.truth import truth_rows
from synthetic_data.writing import FORMATS, FolderWriter, Format

CHUNK_JOBS = 500
"""Jobs simulated at once. Part of the result: another size would draw other random numbers."""

MOST_JOBS = 1_000_000


@dataclass(frozen=True, slots=True)
class Written:
    """What was written where: folder, truth file, firm, and rows by table."""

    out: Path
    truth: Path
    firm_id: str
    scenario: str
    seed: int
    jobs: int
    format: str
    rows: dict[str, int]

    def as_dict(self) -> dict[str, object]:
        """As plain data, for JSON."""
        return {**asdict(self), "out": str(self.out), "truth": str(self.truth)}


def truth_path(out: Path) -> Path:
    """The truth file that belongs to a folder: beside it, never inside."""
    return out.with_name(f"{out.name}-truth.parquet")


def simulate_chunk(
    scenario: Scenario, seed: int, diary: Diary, staff: crew.Engineers, number: int, jobs: int
) -> Chunk:
    """Simulate the jobs of one chunk from the houses to the last callback."""
    parameters = scenario.parameters
    rows = slice(number * CHUNK_JOBS, number * CHUNK_JOBS + jobs)
    houses = house.build_houses(stream(seed, "house", number), jobs)
    systems = system.build_systems(stream(seed, "system", number), houses, parameters.flush)
    fouled = fouling.foul(stream(seed, "fouling", number), houses, parameters.fouling)
    seen = fouling.survey(stream(seed, "survey", number), houses, systems, fouled, parameters.fouling)
    plans = crew.make_plans(
        stream(seed, "plan", number), diary.engineer[rows], houses, fouled.filter, seen, staff, parameters
    )
    done = _flush(stream(seed, "flush", number), parameters, houses, systems, fouled, plans, staff, diary, rows)
    followed = (np.datetime64(parameters.followed_until) - diary.visit_date[rows]).astype(np.int64)
    residual = (done.end.loose + done.end.consolidated).sum(axis=1)
    driver = aftercare.debris_driver_g_l(residual, fouled.magnetite_kg, systems.volume_l, parameters)
    hazards = aftercare.hazards_per_year(houses, plans, driver, parameters)
    callbacks = aftercare.call_back(stream(seed, "aftercare", number), houses, hazards, done.end_min // 1440, followed)
    return Chunk(
        scenario.firm_id, parameters, rows, diary, staff, houses, systems, fouled, seen, plans, done, hazards,
        followed, callbacks,
    )  # fmt: skip


def _flush(
    rng: np.random.Generator, parameters: Parameters, houses: house.Houses, systems: system.Systems,
    fouled: fouling.Fouling, plans: crew.Plans, staff: crew.Engineers, diary: Diary, rows: slice,
) -> Flush:  # fmt: skip
    weekday = (diary.visit_date[rows].astype("datetime64[D]").astype(np.int64) + 3) % 7
    world = flush.prepare(rng, houses, systems, plans, staff, parameters, weekday)
    start_c = rng.uniform(16.0, 34.0, len(weekday))
    return moves.run_flush(world, flush.first_state(world, fouled, start_c))


def simulate_chunks(scenario: Scenario, *, jobs: int, seed: int) -> Iterator[Chunk]:
    """The chunks of a world in order, simulated one at a time."""
    parameters = scenario.parameters
    diary = make_diary(jobs, seed, parameters)
    staff = crew.hire(
        stream(seed, "engineers"), diary.engineers, parameters.crew, parameters.flush.magnet_capacity_kg
    )
    for number, first in enumerate(range(0, jobs, CHUNK_JOBS)):
        yield simulate_chunk(scenario, seed, diary, staff, number, min(CHUNK_JOBS, jobs - first))


def _checked(out: Path, jobs: int | None, scenario: str, form: str) -> tuple[Scenario, int]:
    """The scenario and the number of jobs; BadInput in one sentence where something cannot be."""
    if scenario not in SCENARIOS:
        raise BadInput(f"There is no scenario {scenario!r}; choose one of {', '.join(SCENARIOS)}.")
    if form not in FORMATS:
        raise BadInput(f"There is no format {form!r}; choose one of {', '.join(FORMATS)}.")
    number = SCENARIOS[scenario].default_jobs if jobs is None else jobs
    if not 1 <= number <= MOST_JOBS:
        raise BadInput(f"The number of jobs must lie between 1 and {MOST_JOBS}; {number} was asked for.")
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise BadInput(f"{out} exists already and is not an empty folder: name another, or remove it first.")
    return SCENARIOS[scenario], number


def simulate_to_folder(
    out: Path,
    *,
    jobs: int | None = None,
    seed: int,
    scenario: str = "usual",
    format: Format = "csv",
    progress: Callable[[int, int], None] | None = None,
) -> Written:
    """Write the job log of a simulated firm to the new folder `out`, and the truth beside it.

    The same `jobs`, `seed` and `scenario` give the same bytes. `jobs` left out: the scenario's usual
    number. `progress(done, total)` is called after every chunk. BadInput where `out` holds anything.
    """
    chosen, number = _checked(out, jobs, scenario, format)
    out = out.absolute()
    writer, truth, done = FolderWriter(out, format), [], 0
    try:
        for chunk in simulate_chunks(chosen, jobs=number, seed=seed):
            gaps, readings = (stream(seed, name, chunk.rows.start // CHUNK_JOBS) for name in ("gaps", "readings"))
            writer.add(write_tables(gaps, readings, chunk))
            truth.append(truth_rows(chunk))
            done += chunk.jobs
            if progress is not None:
                progress(done, number)
        writer.close()
    except BaseException:
        writer.abandon()
        raise
    pl.concat(truth).write_parquet(truth_path(out))
    return Written(out, truth_path(out), chosen.firm_id, scenario, seed, number, format, dict(writer.rows))
