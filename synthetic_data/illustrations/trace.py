"""One job of a simulated world, looked at minute by minute: the simulator itself runs, with a recorder beside it.

Nothing of the mechanism stands here. The job is cut out of its world with all that was drawn for it, so that it
comes out as in the logs of a run with the same scenario, seed and number of jobs.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, Self, cast

import numpy as np
from numpy.typing import NDArray

from pipeline.contract.findings import BadInput
from pipeline.contract.job_log import EMITTER_KINDS
from synthetic_data import chunk as chunks
from synthetic_data.chunk import Setting
from synthetic_data.crew import crew
from synthetic_data.crew.crew import Plans
from synthetic_data.crew.diary import make_diary
from synthetic_data.flush import faults, moves, world
from synthetic_data.flush.flush_state import DONE, Flush, State, Weighings
from synthetic_data.flush.traps import focus, pressure_bar
from synthetic_data.flush.world import World
from synthetic_data.house.house import Floats, Ints
from synthetic_data.scenarios import SCENARIOS, Scenario
from synthetic_data.streams import stream


@dataclass(frozen=True, slots=True)
class Pools:
    """Debris of one kind [kg, dry], each of shape (minutes, emitters): where it lies, or what has taken it.

    `trapped_kg` is in magnet, strainer and machine base; `caught_kg` came off the magnet and was weighed,
    `strained_kg` the same from strainer and base; `rinsed_kg` went to waste. All by the emitter it was last lifted
    from. `moved_in_kg` settled here and was lifted elsewhere, less the reverse. At every minute and emitter,
    left + trapped + caught + strained + rinsed = before + moved in.
    """

    consolidated_kg: Floats
    loose_kg: Floats
    carried_kg: Floats
    trapped_kg: Floats
    caught_kg: Floats
    strained_kg: Floats
    rinsed_kg: Floats
    moved_in_kg: Floats

    @property
    def left_kg(self) -> Floats:
        """Still in the system: consolidated, loose and carried."""
        return self.consolidated_kg + self.loose_kg + self.carried_kg

    @property
    def out_kg(self) -> Floats:
        """Taken out of the water so far, weighed or not; what was rinsed away is not in it."""
        return self.trapped_kg + self.caught_kg + self.strained_kg


@dataclass(frozen=True, slots=True)
class JobTrace:
    """A job by minutes of flushing (nights left out), from 0, when the flow begins, to the end of the rinse.

    Series have shape (minutes,): `clock_min` since midnight of the first day, `focus_emitter_no` (0: whole system),
    `phase` as in `flush_state`. Arrays ending in `before_kg` (emitters,) are what the survey would have found, so
    before any pre-dose. `weighings` are those of the log, before scale, clock and gaps. `setting` and `plans` have
    this job alone.
    """

    job: int
    setting: Setting
    plans: Plans
    flush: Flush
    emitter_kind: tuple[str, ...]
    minutes: Ints
    clock_min: Ints
    phase: Ints
    focus_emitter_no: Ints
    water_c: Floats
    return_c: Floats
    flow_l_min: Floats
    pressure_bar: Floats
    magnet_load_kg: Floats
    magnetite: Pools
    other: Pools
    loose_before_kg: Floats
    consolidated_before_kg: Floats
    other_before_kg: Floats

    @property
    def weighings(self) -> Weighings:
        """Every weighing, as it was and as weighed."""
        return self.flush.weighings

    @property
    def emitter_no(self) -> Ints:
        """Numbers of the emitters, from 1, in the order of all arrays by emitter."""
        return np.arange(1, len(self.emitter_kind) + 1)


def rows_of(thing: Any, row: int, jobs: int) -> Any:
    """The same dataclass with one job in it: every array of `jobs` rows, in dataclasses within it too, is cut."""
    if isinstance(thing, np.ndarray):
        return thing[row : row + 1] if thing.shape[:1] == (jobs,) else thing
    if not is_dataclass(thing):
        return thing
    return replace(cast(Any, thing), **{f.name: rows_of(getattr(thing, f.name), row, jobs) for f in fields(thing)})


class _DrawsOfOne:
    """A generator that draws for all `jobs` and hands out what falls to one of them, so that it gets its own luck."""

    def __init__(self, rng: np.random.Generator, row: int, jobs: int) -> None:
        self._rng, self._row, self._jobs = rng, row, jobs

    def _cut(self, draw: Any, size: int | tuple[int, ...]) -> NDArray[Any]:
        first, *rest = (size,) if isinstance(size, int) else size
        if first != 1:
            raise ValueError(f"drawn for one job, so the first axis must be 1, not {first}")
        return np.asarray(draw((self._jobs, *rest))[self._row : self._row + 1])

    def standard_normal(self, size: int | tuple[int, ...]) -> NDArray[Any]:
        return self._cut(self._rng.standard_normal, size)

    def integers(self, low: int, high: int, size: int | tuple[int, ...]) -> NDArray[Any]:
        return self._cut(lambda shape: self._rng.integers(low, high, shape), size)

    def uniform(self, low: float, high: float, size: int | tuple[int, ...]) -> NDArray[Any]:
        return self._cut(lambda shape: self._rng.uniform(low, high, shape), size)


_SERIES = (
    "minutes",
    "clock_min",
    "phase",
    "focus_emitter_no",
    "water_c",
    "return_c",
    "flow_l_min",
    "pressure_bar",
    "magnet_load_kg",
)


class _Recorder:
    """Keeps a copy of a one-job state after every minute until the job is done."""

    def __init__(self, emitters: int, ready: World) -> None:
        self.emitters, self.ready, self.is_over = emitters, ready, False
        self.series: list[tuple[float, ...]] = []
        self.pools: list[tuple[Floats, ...]] = []

    def __call__(self, minute: int, s: State) -> None:
        if self.is_over:
            return
        one = np.array([0])
        self.is_over = bool(s.phase[0] == DONE)
        self.series.append(
            (
                minute,
                s.offset_min[0] + minute,
                s.phase[0],
                focus(s, one)[0] + 1,
                s.temp_c[0],
                s.return_c[0],
                0.0 if self.is_over else s.flow_l_min[0],
                pressure_bar(s, self.ready, one)[0],
                s.magnet[0].sum(),
            )
        )
        nothing = np.zeros(s.consolidated.shape)
        magnetite = (
            s.consolidated,
            s.loose,
            s.carried,
            s.magnet + s.strainer,
            s.caught,
            s.strainer_caught,
            s.rinsed,
            s.moved,
        )
        other = (nothing, s.sand, s.sand_carried, s.sand_trap, nothing, s.sand_caught, s.sand_rinsed, s.sand_moved)
        self.pools.append(tuple(pool[0, : self.emitters].copy() for pool in (*magnetite, *other)))

    def columns(self) -> dict[str, Any]:
        """Series and pools under their names in `JobTrace`."""
        series = {name: np.array(column) for name, column in zip(_SERIES, zip(*self.series, strict=True), strict=True)}
        pools = [np.stack(column) for column in zip(*self.pools, strict=True)]
        whole = {name: series[name].astype(np.int64) for name in _SERIES[:4]}
        return {**series, **whole, "magnetite": Pools(*pools[:8]), "other": Pools(*pools[8:])}


@dataclass(frozen=True, slots=True)
class _OneJob:
    """A job cut out of its chunk, with the random draws of its flush."""

    setting: Setting
    plans: Plans
    draws: np.random.Generator

    @classmethod
    def cut(cls, scenario: Scenario, seed: int, jobs: int, job: int) -> Self:
        """Build the chunk that holds the job up to its plans, as a run of so many jobs would, and keep one row."""
        p, place = scenario.parameters, job - 1
        diary = make_diary(jobs, seed, p, scenario.firms)
        staff = crew.hire(
            stream(seed, "engineers"),
            diary.firm_of_engineer,
            p.crew,
            p.flush.magnet_capacity_kg,
            p.log.five_minute_share,
        )
        number, row = divmod(place, chunks.CHUNK_JOBS)
        first = number * chunks.CHUNK_JOBS
        rows = slice(first, min(first + chunks.CHUNK_JOBS, jobs))
        s, count = chunks.set_up(scenario, seed, diary, staff, number, rows), rows.stop - rows.start
        plans = rows_of(chunks.plan(s), row, count)
        parts = {
            name: rows_of(getattr(s, name), row, count) for name in ("faults", "houses", "systems", "fouling", "survey")
        }
        draws = cast(np.random.Generator, _DrawsOfOne(s.random("flush"), row, count))
        return cls(replace(s, rows=slice(place, job), **parts), plans, draws)

    def flush(self) -> tuple[Flush, _Recorder]:
        """Flush it as `chunk.flush_with` does, with a recorder."""
        s = self.setting
        weekday = (s.visit_date.astype("datetime64[D]").astype(np.int64) + 3) % 7
        defects = faults.defects_of(s.faults, s.parameters.faults)
        ready = world.prepare(self.draws, s.houses, s.systems, self.plans, s.staff, s.parameters, weekday, defects)
        state = world.first_state(ready, s.fouling, self.draws.uniform(16.0, 34.0, 1))
        record = _Recorder(int(s.houses.emitter_count[0]), ready)
        record(0, state)
        return moves.run_flush(ready, state, record), record


def trace_job(scenario: str, seed: int, job: int, *, jobs: int | None = None) -> JobTrace:
    """Job number `job` (from 1, in the order of the diary) of a world of `jobs` (left out: the scenario's usual).

    The same weighings as in the logs of `simulate_to_folder` with that scenario, seed and number of jobs. BadInput
    where there is no such scenario or job.
    """
    if scenario not in SCENARIOS:
        raise BadInput(f"There is no scenario {scenario!r}; choose one of {', '.join(SCENARIOS)}.")
    number = SCENARIOS[scenario].default_jobs if jobs is None else jobs
    if not 1 <= job <= number:
        raise BadInput(f"The job must lie between 1 and {number}; {job} was asked for.")
    one = _OneJob.cut(SCENARIOS[scenario], seed, number, job)
    done, record = one.flush()
    here, fouling = slice(0, record.emitters), one.setting.fouling
    kinds = tuple(EMITTER_KINDS[kind] for kind in one.setting.houses.kind[0, here])
    return JobTrace(
        job=job,
        setting=one.setting,
        plans=one.plans,
        flush=done,
        emitter_kind=kinds,
        **record.columns(),
        loose_before_kg=fouling.loose_kg[0, here],
        consolidated_before_kg=fouling.consolidated_kg[0, here],
        other_before_kg=fouling.sand_kg[0, here],
    )
