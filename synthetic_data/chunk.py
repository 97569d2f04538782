"""A run of jobs from the houses to the last callback, and the same run again with another plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from synthetic_data.aftercare import aftercare, callbacks
from synthetic_data.crew import crew
from synthetic_data.crew.crew import Engineers, Plans
from synthetic_data.crew.diary import Diary
from synthetic_data.flush import faults, moves, world
from synthetic_data.flush.faults import Faults
from synthetic_data.flush.flush_state import Flush
from synthetic_data.flush.network import Flows
from synthetic_data.house import fouling, house, stock, survey, system
from synthetic_data.house.fouling import Fouling
from synthetic_data.house.house import Floats, Houses, Ints
from synthetic_data.house.survey import Survey
from synthetic_data.house.system import Systems
from synthetic_data.parameters import Parameters
from synthetic_data.scenarios import Scenario
from synthetic_data.streams import stream

CHUNK_JOBS = 1000
"""Jobs simulated at once. Part of the result: another size would draw other random numbers."""

RISK_DAYS = 365


@dataclass(frozen=True, slots=True)
class Setting:
    """All that was there before anyone decided anything; `rows` is the place of the jobs in the diary."""

    scenario: Scenario
    seed: int
    number: int
    rows: slice
    diary: Diary
    staff: Engineers
    faults: Faults
    houses: Houses
    systems: Systems
    fouling: Fouling
    survey: Survey

    @property
    def parameters(self) -> Parameters:
        """The numbers of this world."""
        return self.scenario.parameters

    @property
    def engineer(self) -> Ints:
        """Who leads each job (index into `staff`)."""
        return self.diary.engineer[self.rows]

    @property
    def visit_date(self) -> NDArray[np.datetime64]:
        """First day on site."""
        return self.diary.visit_date[self.rows]

    def random(self, process: str) -> np.random.Generator:
        """A fresh generator of that process for this run of jobs: asked twice, it draws the same."""
        return stream(self.seed, process, self.number)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What follows from a plan: the flush with its solved flows, and how the system lives on."""

    flush: Flush
    flows: Flows
    course: aftercare.Course

    @property
    def last_day(self) -> Ints:
        """Last day on site, 0 for the first."""
        return np.asarray(self.flush.end_min // moves.DAY_MINUTES)

    @property
    def risk(self) -> Floats:
        """Chance of a debris callback within `RISK_DAYS` of the first day on site."""
        return aftercare.risk_until(self.course.debris_hazard, RISK_DAYS - self.last_day)


def set_up(scenario: Scenario, seed: int, diary: Diary, staff: Engineers, number: int, rows: slice) -> Setting:
    """Build houses, pipework, sludge and survey of a run of jobs, faults planted."""
    parameters, jobs = scenario.parameters, rows.stop - rows.start
    planted = faults.draw_faults(stream(seed, "faults", number), jobs, parameters.faults)
    houses = house.build_houses(stream(seed, "house", number), jobs)
    houses = stock.one_sided(stream(seed, "stock", number), scenario.estate(houses), parameters.house)
    houses = faults.plant_in_house(houses, planted)
    systems = system.build_systems(stream(seed, "system", number), houses, parameters.house)
    fouled = fouling.foul(stream(seed, "fouling", number), houses, systems, parameters.fouling)
    fouled = faults.plant_in_fouling(fouled, houses, planted, parameters.faults)
    seen = survey.survey(stream(seed, "survey", number), houses, systems, fouled, parameters.fouling)
    return Setting(scenario, seed, number, rows, diary, staff, planted, houses, systems, fouled, seen)


def plan(setting: Setting, rng: np.random.Generator | None = None) -> Plans:
    """What the crews decide; with another generator, what they might as well have decided."""
    s = setting
    plans = crew.make_plans(
        s.random("plan") if rng is None else rng,
        s.engineer,
        s.houses,
        s.systems.volume_l,
        s.fouling.filter,
        s.survey,
        s.staff,
        s.parameters,
    )
    return faults.plant_in_plans(plans, s.faults, s.parameters.faults)


def flush_with(setting: Setting, plans: Plans) -> tuple[Flush, Flows]:
    """Flush every house by that plan; the noise is the same whatever the plan."""
    s, rng = setting, setting.random("flush")
    weekday = (s.visit_date.astype("datetime64[D]").astype(np.int64) + 3) % 7
    defects = faults.defects_of(s.faults, s.parameters.faults)
    defects = faults.with_mishaps(s.random("mishaps"), defects, s.faults.has(faults.NONE), s.parameters.faults)
    ready = world.prepare(rng, s.houses, s.systems, plans, s.staff, s.parameters, weekday, defects)
    start_c = rng.uniform(16.0, 34.0, len(weekday))
    return moves.run_flush(ready, world.first_state(ready, s.fouling, start_c)), ready.flows


def months_to_run(days: int) -> int:
    """Months of aftercare that reach that many days."""
    return int(days / 365.25 * 12) + 1


def live_on(setting: Setting, plans: Plans, done: Flush, months: int) -> aftercare.Course:
    """How every system lives on after that flush, with what was left in it."""
    s, p = setting, setting.parameters.aftercare
    month = s.visit_date.astype("datetime64[M]").astype(np.int64) % 12
    left = aftercare.Left(
        done.end.loose,
        done.end.consolidated,
        s.systems.volume_l,
        s.fouling.made_kg_year,
        s.fouling.topups,
        month,
        s.staff.skill[plans.engineer],
    )
    left = aftercare.left_or_own_share(left, s.fouling.loose_kg, s.fouling.consolidated_kg, p)
    return aftercare.live_on(left, s.houses, plans, months, p)


def outcome(setting: Setting, plans: Plans, kept: Outcome | None = None, months: int = 13) -> Outcome:
    """Flush by that plan, or keep the flush of another outcome where the plan cannot change it; then live on."""
    done, flows = flush_with(setting, plans) if kept is None else (kept.flush, kept.flows)
    return Outcome(done, flows, live_on(setting, plans, done, months))


@dataclass(frozen=True, slots=True)
class Chunk:
    """Everything known about a run of jobs: the setting, the plans, what came of them, the callbacks."""

    setting: Setting
    plans: Plans
    outcome: Outcome
    others_per_year: Floats
    followed_days: Ints
    callbacks: callbacks.Callbacks

    @property
    def jobs(self) -> int:
        """Jobs in the chunk."""
        return len(self.plans.engineer)

    @property
    def parameters(self) -> Parameters:
        """The numbers of this world."""
        return self.setting.parameters

    @property
    def flush(self) -> Flush:
        """The flush as it was."""
        return self.outcome.flush

    @property
    def houses(self) -> Houses:
        """The houses."""
        return self.setting.houses

    @property
    def systems(self) -> Systems:
        """Their pipework."""
        return self.setting.systems

    @property
    def fouling(self) -> Fouling:
        """Their sludge before the visit."""
        return self.setting.fouling

    @property
    def survey(self) -> Survey:
        """What a careful survey would find."""
        return self.setting.survey

    @property
    def staff(self) -> Engineers:
        """All engineers."""
        return self.setting.staff

    @property
    def visit_date(self) -> NDArray[np.datetime64]:
        """First day on site."""
        return self.setting.visit_date

    @property
    def rows(self) -> slice:
        """Place of the jobs in the diary."""
        return self.setting.rows


def simulate_chunk(scenario: Scenario, seed: int, diary: Diary, staff: Engineers, number: int, rows: slice) -> Chunk:
    """Simulate a run of jobs from the houses to the last callback."""
    s = set_up(scenario, seed, diary, staff, number, rows)
    p, plans = s.parameters.aftercare, plan(s)
    until_load = (np.datetime64(s.parameters.followed_until) - s.visit_date).astype(np.int64)
    result = outcome(s, plans, months=max(13, months_to_run(int(until_load.max(initial=0)))))
    weeps = np.where(s.faults.has(faults.WEEP), s.parameters.faults.weep_leak_ratio, 1.0)
    others = callbacks.other_hazards(s.houses, weeps, p)
    rng = s.random("aftercare")
    followed = callbacks.follow_up_days(rng, s.houses, until_load, p)
    early = callbacks.early_leak_days(s.random("early_leaks"), s.houses, p)
    calls = callbacks.call_back(rng, s.houses, result.course, others, result.last_day, followed, p, early)
    return Chunk(s, plans, result, others, followed, calls)
