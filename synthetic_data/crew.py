"""Engineers with habits, and the plan each makes for a job: effort follows how bad the system looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline import job_log
from synthetic_data.diary import Diary
from synthetic_data.fouling import Survey
from synthetic_data.house import MICROBORE, Flags, Floats, Houses, Ints
from synthetic_data.parameters import CrewParameters

ONE_AT_A_TIME, GROUPS, ALL_OPEN = range(3)
LABEL_DAYS = np.array([7, 14, 28])
_CONNECTION_KV_M3_H = np.array([6.0, 4.0, 1.8, 0.9, 0.35])
"""Kv of the hose joint, in the order of `job_log.CONNECTIONS` (assumption)."""


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
    weigh_minutes: Floats
    leave_wet_g_min: Floats
    machine_l_min: Floats
    hose_m: Floats
    hose_bore_mm: Floats
    magnet_kg: Floats
    careful: Flags
    scale_step_g: Floats
    label_days: Ints
    samples_water: Floats


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
    connection_kv: Floats
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
    rinse_minutes: Ints
    set_point_c: Floats
    arrive_min: Ints
    start_min: Ints
    home_min: Ints
    clear_minutes: Ints


def hire(rng: np.random.Generator, number: int, p: CrewParameters, magnet_kg: float) -> Engineers:
    """Draw the firm's engineers once; they stay the same through the whole window."""
    habit = p.habit_sd * rng.standard_normal((7, number))
    spread = np.exp(0.22 * rng.standard_normal((2, number)))
    return Engineers(
        habit[0], habit[1], habit[2], habit[3], habit[4], habit[5], habit[6],
        p.weigh_minutes * spread[0], p.leave_wet_g_min * spread[1] * np.exp(-0.12 * habit[0]),
        rng.choice([30.0, 35.0, 40.0, 50.0, 60.0], number), rng.choice([5.0, 7.5, 10.0], number),
        rng.choice([19.0, 25.0], number), magnet_kg * np.exp(0.2 * rng.standard_normal(number)),
        np.arange(number) % max(2, round(1 / max(p.careful_share, 1e-9))) == 1,
        rng.choice([5.0, 10.0, 20.0], number), LABEL_DAYS[rng.choice(3, number, p=(0.25, 0.5, 0.25))],
        rng.normal(0, 0.8, number),
    )  # fmt: skip


def _chance(logit: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-logit)))


def _pick(u: Floats, *logits: Floats) -> Ints:
    """Index by soft maximum over logits, one uniform draw a job."""
    weight = np.exp(np.column_stack(logits))
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


def _protection(u: Floats, push: Floats, had_filter: Flags) -> Ints:
    """Filter left in the system, as index into `job_log.FILTERS`."""
    new = _pick(u, 0.1 + 0 * push, 0.5 + push, -1.2 + 0.5 * push)
    return np.where(had_filter, job_log.FILTERS.index("already_there"), new)


def make_plans(
    rng: np.random.Generator, diary: Diary, rows: slice, houses: Houses, had_filter: Flags, survey: Survey,
    staff: Engineers, p: CrewParameters, set_point_c: float,
) -> Plans:  # fmt: skip
    """Plan every job of a chunk; `rows` picks the chunk's entries in the diary."""
    e = diary.engineer[rows]
    jobs = len(e)
    bad = p.indication * (survey.looks_bad - 0.5)
    u = rng.random((16, jobs))
    z = rng.standard_normal((7, jobs))
    predosed = u[0] < _chance(-0.2 + staff.predose[e] + 1.3 * bad)
    days = np.ceil(staff.label_days[e] * _chance(-0.3 + bad + 1.2 * z[0]))
    days = np.where(predosed, days, 0).astype(np.int64)
    dose = np.round(np.exp(0.12 * z[1]) * (1 + 0.12 * np.tanh(bad)), 1).clip(0.5, 2)
    heat = _pick(u[1], -0.6 - staff.heat[e] - bad, 1.0 + 0 * bad, -0.2 + staff.heat[e], -0.5 + staff.heat[e] + bad)
    micro = houses.layout == MICROBORE
    connection = _pick(
        u[2], 1.0 + 0.5 * staff.skill[e], 0.6 + 0 * bad, -0.4 - 0.3 * staff.skill[e], -1.0 - 0.5 * staff.skill[e],
        np.where(micro, -0.4, -30.0),
    )  # fmt: skip
    isolation = _pick(u[3], 0.9 + staff.focus[e] + 0.8 * bad, 0.2 + 0 * bad, -0.1 - staff.focus[e] - 0.8 * bad)
    agitation = _pick(
        u[4], 0.2 - staff.agitate[e] - bad, 0.4 + 0 * bad, 0.1 + staff.agitate[e], -0.7 + staff.agitate[e] + bad
    )
    longest = ((houses.length_mm >= 1400) & houses.present).sum(axis=1)
    half = np.where(u[5] < _chance(-1.6 + staff.skill[e] + bad), np.ceil(longest * u[6]), 0).astype(np.int64)
    arrive = 490 + np.round(25 * z[2]).clip(-35, 60).astype(np.int64)
    pair = u[7] < _chance(-1.6 + 0.12 * (houses.emitter_count - 10) + bad)
    setup = (28 + 2.2 * houses.emitter_count * np.where(pair, 0.6, 1.0) + 12 * np.abs(z[3])).astype(np.int64)
    kw = np.where(heat >= 2, np.array([2.8, 3.0, 6.0, 9.0])[(e % 4)], 0.0)
    group_size = np.where(isolation == GROUPS, 2.4, 0.8 * houses.emitter_count)
    group_size = np.where(isolation == ONE_AT_A_TIME, 1.0, group_size)
    return Plans(
        e, 1 + pair, days, dose, heat, kw,
        connection, _CONNECTION_KV_M3_H[connection], isolation, agitation, half,
        u[8] < _chance(0.3 + staff.skill[e] + 0.5 * bad), u[9] < _chance(0.4 + staff.tidy[e] + 0.5 * bad),
        _protection(u[10], staff.protect[e] + 0.6 * bad, had_filter), u[11] < _chance(1.8 + staff.protect[e]),
        _order(rng, houses, survey, e), staff.weigh_minutes[e] * np.exp(0.1 * z[4]),
        staff.leave_wet_g_min[e] * np.where(isolation == ALL_OPEN, 1.8, np.where(isolation == GROUPS, 1.3, 1.0))
        * np.exp(-0.25 * bad),
        p.least_dwell_minutes * group_size * np.where(pair, 0.9, 1.0), 0.5 + 0.4 * u[12],
        (p.wet_dry_ratio * np.exp(p.wet_dry_sd_log * z[5])).clip(1.35, 2.65),
        np.round(p.rinse_minutes * (0.6 + 0.8 * u[13])).astype(np.int64),
        set_point_c + 2.5 * staff.heat[e].clip(-2, 2) + 2.0 * z[6].clip(-2, 2), arrive, arrive + setup,
        (975 + 50 * u[14]).astype(np.int64), (25 + 20 * u[15] + houses.emitter_count).astype(np.int64),
    )  # fmt: skip

