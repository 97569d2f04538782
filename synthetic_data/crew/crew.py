"""Engineers with habits, and the plan each makes for a job: effort follows how bad the system looks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pipeline.contract import job_log
from synthetic_data.house.house import HEAT_PUMP, MICROBORE, Flags, Floats, Houses, Ints
from synthetic_data.house.survey import Survey
from synthetic_data.parameters import CrewParameters, Parameters

ONE_AT_A_TIME, GROUPS, ALL_OPEN = range(3)
LABEL_DAYS = np.array([7, 14, 28])
LONG_MM = 1400.0
WATER_KG_M3, MAGNETITE_KG_M3 = 998.0, 5175.0
HEATER_KW = np.array([2.8, 3.0, 6.0, 9.0])
HEAT_PUMP_C = 50.0
"""Flow temperature that a heat pump gives at most in a flush (common practice, no source)."""
LOCKED_OUT = np.array([0, 0, 2, 2])
"""Heat source of each plan where the boiler locks out for want of pressure: none, none, heater, heater."""
_WORTH = np.array([1.0, 1.1, 1.2])
"""Catch rate found worth while against that at a single emitter, in the order of `job_log.ISOLATIONS`."""
BY_THE_CLOCK_G_MIN = 1e6
"""No catch rate is enough for those who go by the clock."""
_LUNCH_FROM_MIN = 12 * 60


@dataclass(frozen=True, slots=True)
class Engineers:
    """Habits, one entry an engineer. Logit-scale leanings are 0 for the usual one."""

    skill: Floats
    predose: Floats
    focus: Floats
    agitate: Floats
    heat: Floats
    protect: Floats
    tidy: Floats
    by_clock: Flags
    lunches: Flags
    clock_step_min: Ints
    weigh_minutes: Floats
    leave_wet_g_min: Floats
    machine_l_min: Floats
    hose_m: Floats
    hose_bore_mm: Floats
    magnet_kg: Floats
    open_tank: Flags
    dumps: Flags
    careful: Flags
    scale_step_g: Floats
    label_days: Ints


@dataclass(frozen=True, slots=True)
class Plans:
    """What was decided before the flush, shape (jobs,); indices into the choices of the job log."""

    engineer: Ints
    crew_size: Ints
    predose_days: Ints
    dose_ratio: Floats
    heat_source: Ints
    heater_kw: Floats
    connection: Ints
    isolation: Ints
    agitation: Ints
    half_drained: Ints
    reversed: Flags
    strainer_checked: Flags
    filter_fitted: Ints
    inhibitor_dosed: Flags
    order_key: Floats
    weigh_minutes: Floats
    leave_wet_g_min: Floats
    dwell_minutes: Floats
    full_share: Floats
    wet_ratio: Floats
    mains_l_min: Floats
    dump_minutes: Floats
    diligence: Floats
    lunch_at_min: Ints
    lunch_minutes: Ints
    rinse_minutes: Ints
    set_point_c: Floats
    arrive_min: Ints
    start_min: Ints
    home_min: Ints
    clear_minutes: Ints


def hire(
    rng: np.random.Generator, firm_of_engineer: Ints, p: CrewParameters, magnet_kg: float, five_minute_share: float
) -> Engineers:
    """Draw the engineers once; they stay the same through the whole window. Those of a firm are alike."""
    number = len(firm_of_engineer)
    habits = p.habit_sd * rng.standard_normal((7, number))
    pace, patience = np.exp(0.22 * rng.standard_normal((2, number)))
    # every nth is careful, so that a small firm has one too
    careful_every = max(2, round(1 / max(p.careful_share, 0.01)))
    machine, hose_m = rng.choice([30.0, 35.0, 40.0, 50.0, 60.0], number), rng.choice([5.0, 7.5, 10.0], number)
    bore, magnet = rng.choice([19.0, 25.0], number), np.exp(0.2 * rng.standard_normal(number))
    step, label = rng.choice([5.0, 10.0, 20.0], number), rng.choice(3, number, p=(0.25, 0.5, 0.25))
    u = rng.random((3, number))
    open_tank, dumps = rng.random((2, number)) < np.array([[p.open_tank_share], [p.dump_engineers]])
    habits += p.firm_sd * rng.standard_normal((7, int(firm_of_engineer.max()) + 1))[:, firm_of_engineer]
    skill, predose, focus, agitate, heat, protect, tidy = habits
    return Engineers(
        skill=skill,
        predose=predose,
        focus=focus,
        agitate=agitate,
        heat=heat,
        protect=protect,
        tidy=tidy,
        by_clock=u[0] < p.clock_share,
        lunches=u[1] < 0.7,
        clock_step_min=np.where(u[2] < five_minute_share, 5, 1),
        weigh_minutes=p.weigh_minutes * pace,
        leave_wet_g_min=p.leave_wet_g_min * patience * np.exp(-0.12 * skill),
        machine_l_min=machine,
        hose_m=hose_m,
        hose_bore_mm=bore,
        magnet_kg=magnet_kg * magnet,
        open_tank=open_tank,
        dumps=dumps,
        careful=(np.arange(number) % careful_every == 1) & (p.careful_share > 0),
        scale_step_g=step,
        label_days=LABEL_DAYS[label],
    )


def _chance(logit: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-logit)))


def _pick(u: Floats, *logits: Floats | float) -> Ints:
    """Index by soft maximum over logits, one uniform draw a job."""
    weight = np.exp(np.column_stack([np.broadcast_to(logit, u.shape) for logit in logits]))
    edges = np.cumsum(weight / weight.sum(axis=1, keepdims=True), axis=1)
    return np.asarray((u[:, None] > edges[:, :-1]).sum(axis=1))


def _order(rng: np.random.Generator, houses: Houses, survey: Survey, engineer: Ints) -> Floats:
    """Sort key of the emitters: coldest first, from the top down, or as they come, by engineer."""
    shape = houses.present.shape
    noise = rng.random(shape)
    habit = (engineer % 3)[:, None]
    key = np.where(habit == 0, 2.0 * ~survey.cold + noise, noise)
    key = np.where(habit == 1, -1.0 * houses.floor + 0.5 * noise, key)
    key = np.where(habit == 2, np.arange(shape[1])[None, :] + 0.0 * noise, key)
    return np.asarray(np.where(houses.present, key, np.inf))


def _chemical(rng: np.random.Generator, staff: Engineers, e: Ints, bad: Floats) -> dict[str, Floats | Ints]:
    """Days of pre-dose, never beyond the label's, and dose as a ratio of the label's."""
    u, z = rng.random(len(e)), rng.standard_normal((2, len(e)))
    is_predosed = u < _chance(-0.2 + staff.predose[e] + 1.8 * bad)
    days = np.ceil(staff.label_days[e] * _chance(-0.3 + bad + 1.2 * z[0]))
    dose = np.round(np.exp(0.12 * z[1]) * (1 + 0.12 * np.tanh(bad)), 1).clip(0.5, 2)
    return {"predose_days": np.where(is_predosed, days, 0).astype(np.int64), "dose_ratio": dose}


def _method(
    rng: np.random.Generator, houses: Houses, staff: Engineers, e: Ints, bad: Floats
) -> dict[str, Floats | Ints | Flags]:
    """Heat, connection, isolation, agitation, half draining and reversal."""
    u = rng.random((7, len(e)))
    skill, focus, shake, heat = staff.skill[e], staff.focus[e], staff.agitate[e], staff.heat[e]
    source = _pick(u[0], -0.6 - heat - bad, 1.0, -0.2 + heat, -0.5 + heat + bad)
    micro = np.where(houses.layout == MICROBORE, -0.4, -30.0)
    connection = _pick(u[1], 1.0 + 0.5 * skill, 0.6, -0.4 - 0.3 * skill, -1.0 - 0.5 * skill, micro)
    longest = ((houses.length_mm >= LONG_MM) & houses.present).sum(axis=1)
    is_half = u[4] < _chance(-1.6 + skill + bad)
    return {
        "heat_source": source,
        "heater_kw": np.where(source >= 2, HEATER_KW[e % 4], 0.0),
        "connection": connection,
        "isolation": _pick(u[2], 0.9 + focus + 0.8 * bad, 0.2, -0.4 - focus - 0.8 * bad),
        "agitation": _pick(u[3], 0.2 - shake - bad, 0.4, 0.1 + shake, -0.7 + shake + bad),
        "half_drained": np.where(is_half, np.ceil(longest * u[5]), 0).astype(np.int64),
        "reversed": u[6] < _chance(0.3 + skill + 0.5 * bad),
    }


def _aftermath(
    rng: np.random.Generator, staff: Engineers, e: Ints, bad: Floats, had_filter: Flags
) -> dict[str, Ints | Flags]:
    """Traps looked at, filter and inhibitor left in the system."""
    u = rng.random((3, len(e)))
    push = staff.protect[e] + 1.2 * bad
    new = _pick(u[0], 0.1, 0.5 + push, -1.2 + 0.5 * push)
    return {
        "filter_fitted": np.where(had_filter, job_log.FILTERS.index("already_there"), new),
        "inhibitor_dosed": u[1] < _chance(1.6 + staff.protect[e] + 0.3 * bad),
        "strainer_checked": u[2] < _chance(0.4 + staff.tidy[e] + 0.5 * bad),
    }


def at_once(houses: Houses, isolation: Ints) -> Floats:
    """Stay at a station against that at a single emitter: more is open, more has to come out of it."""
    several = np.where(isolation == GROUPS, 2.4, 0.8 * houses.emitter_count)
    return np.asarray(np.where(isolation == ONE_AT_A_TIME, 1.0, several))


def worth(isolation: Ints) -> Floats:
    """Catch rate found worth while against that at a single emitter."""
    return np.asarray(_WORTH[isolation])


def _pace(
    rng: np.random.Generator, houses: Houses, staff: Engineers, e: Ints, bad: Floats, isolation: Ints, p: CrewParameters
) -> dict[str, Floats | Ints]:
    """Crew, clock, and how long to stay anywhere: patience grows with how bad it looks."""
    u, z = rng.random((5, len(e))), rng.standard_normal((3, len(e)))
    count, by_clock = houses.emitter_count, staff.by_clock[e]
    is_pair = u[0] < _chance(-1.6 + 0.12 * (count - 10) + bad)
    setup = (28 + 2.2 * count * np.where(is_pair, 0.6, 1.0) + 12 * np.abs(z[0])).astype(np.int64)
    arrive = 490 + np.round(25 * z[1]).clip(-35, 60).astype(np.int64)
    rate = staff.leave_wet_g_min[e] * worth(isolation) * np.exp(-0.25 * bad)
    dwell = p.least_dwell_minutes * at_once(houses, isolation) * np.where(is_pair, 0.9, 1.0)
    return {
        "crew_size": 1 + is_pair,
        "weigh_minutes": staff.weigh_minutes[e] * np.exp(0.1 * z[2]),
        "leave_wet_g_min": np.where(by_clock, BY_THE_CLOCK_G_MIN, rate),
        "dwell_minutes": dwell * np.where(by_clock, p.clock_dwell * np.exp(0.25 * bad), 1.0),
        "full_share": 0.5 + 0.4 * u[1],
        "arrive_min": arrive,
        "start_min": arrive + setup,
        "home_min": (975 + 50 * u[3]).astype(np.int64),
        "clear_minutes": (25 + 20 * u[4] + count).astype(np.int64),
    }


def _water_and_lunch(
    rng: np.random.Generator, volume_l: Floats, staff: Engineers, e: Ints, p: CrewParameters
) -> dict[str, Floats | Ints]:
    """Mains flow of the house, the minutes in which it changes the water often enough, and lunch."""
    u, z = rng.random((3, len(e))), rng.standard_normal((2, len(e)))
    mains = (p.mains_l_min * np.exp(0.25 * z[0])).clip(8, 25)
    changes = p.rinse_changes * np.exp(0.12 * staff.skill[e] + 0.2 * z[1])
    minutes = np.where(staff.lunches[e] & (u[0] < 0.9), p.lunch_minutes * (0.7 + 0.6 * u[1]), 0.0)
    return {
        "mains_l_min": mains,
        "rinse_minutes": np.ceil(changes * volume_l / mains).clip(5, 150).astype(np.int64),
        "lunch_at_min": (_LUNCH_FROM_MIN + 75 * u[2]).astype(np.int64),
        "lunch_minutes": minutes.astype(np.int64),
    }


def make_plans(
    rng: np.random.Generator,
    engineer: Ints,
    houses: Houses,
    volume_l: Floats,
    had_filter: Flags,
    survey: Survey,
    staff: Engineers,
    parameters: Parameters,
) -> Plans:
    """Plan the jobs of a chunk, `engineer` being who leads each (index into `staff`)."""
    p, jobs = parameters.crew, len(engineer)
    diligence = rng.standard_normal(jobs)
    bad = p.indication * (survey.looks_bad - 0.5) + p.hidden_push * diligence
    method = _method(rng, houses, staff, engineer, bad)
    locked = staff.open_tank[engineer] & ~houses.vented
    source = np.asarray(method["heat_source"])
    method["heat_source"] = source = np.where(locked, LOCKED_OUT[source], source)
    set_point = parameters.flush.set_point_c + 2.5 * staff.heat[engineer].clip(-2, 2)
    set_point = set_point + 2.0 * rng.standard_normal(jobs).clip(-2, 2)
    is_pump = (houses.boiler_kind == HEAT_PUMP) & (source == 1)
    chosen: dict[str, Any] = {
        **_chemical(rng, staff, engineer, bad),
        **method,
        **_aftermath(rng, staff, engineer, bad, had_filter),
        **_pace(rng, houses, staff, engineer, bad, np.asarray(method["isolation"]), p),
        **_water_and_lunch(rng, volume_l, staff, engineer, p),
        "order_key": _order(rng, houses, survey, engineer),
        "wet_ratio": wet_dry_ratio(p.porosity + p.porosity_sd * rng.standard_normal(jobs)),
        "dump_minutes": parameters.flush.dump_minutes * staff.dumps[engineer] * (0.5 + rng.random(jobs)),
        "set_point_c": np.where(is_pump, np.minimum(set_point, HEAT_PUMP_C), set_point),
        "diligence": diligence,
    }
    return Plans(engineer=engineer, **chosen)


def wet_dry_ratio(porosity: Floats) -> Floats:
    """Wet over dry mass of packed magnetite whose pores are full of water; porosity kept within 0.6..0.9.

    1 + ρ_w φ / (ρ_m (1 − φ)): 1.29 at φ = 0.6, 2.74 at 0.9.
    """
    phi = np.clip(porosity, 0.6, 0.9)
    return np.asarray(1.0 + WATER_KG_M3 * phi / (MAGNETITE_KG_M3 * (1.0 - phi)))
