"""After the visit: what is left goes on moving and more is made, month by month, and that is what brings hazards.

Mechanism 7 of `README.md`. All masses kg dry; shape (jobs, 26) by emitter unless said otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pipeline.contract import job_log
from pipeline.contract.units import DAYS_PER_YEAR, G_PER_KG, MM_PER_M
from synthetic_data.crew.crew import Plans
from synthetic_data.house.house import MICROBORE, Floats, Houses, Ints
from synthetic_data.parameters import AftercareParameters

MONTH_YEARS = 1.0 / 12.0
MOST_PER_YEAR = 4.0
"""No route's hazard rises above this: a system that bad is cleaned again before."""
_ON_RETURN = job_log.FILTERS.index("on_return")
_NO_FILTER = job_log.FILTERS.index("none")


@dataclass(frozen=True, slots=True)
class Left:
    """How a visit leaves a system, and what will happen in it: the start of aftercare.

    `loose_kg` and `consolidated_kg` by emitter; by job: litres, magnetite that oxygen would go on making
    without inhibitor [kg/year], top-ups a year, the month of the year of the visit (0 = January), the
    engineer's skill.
    """

    loose_kg: Floats
    consolidated_kg: Floats
    volume_l: Floats
    ingress_kg_year: Floats
    topups: Floats
    month: Ints
    skill: Floats


@dataclass(frozen=True, slots=True)
class Course:
    """What follows month by month. Cumulative hazards from 0, shape (jobs, months + 1); masses at the end.

    `emitter_hazard`: debris at emitters; `source_hazard`: debris at heat source and pump.
    """

    emitter_hazard: Floats
    source_hazard: Floats
    loose_kg: Floats
    consolidated_kg: Floats
    made_kg: Floats
    filter_kg: Floats
    source_kg: Floats

    @property
    def debris_hazard(self) -> Floats:
        """Both routes together."""
        return np.asarray(self.emitter_hazard + self.source_hazard)


def left_or_own_share(
    left: Left, loose_before_kg: Floats, consolidated_before_kg: Floats, p: AftercareParameters
) -> Left:
    """What drives the future: what was left, or a fixed share of what was there where practice does nothing."""
    share, effect = p.fixed_residual_share, p.practice_effect
    return replace(
        left,
        loose_kg=effect * left.loose_kg + (1 - effect) * share * loose_before_kg,
        consolidated_kg=effect * left.consolidated_kg + (1 - effect) * share * consolidated_before_kg,
    )


def season_of(month: Ints, p: AftercareParameters) -> Floats:
    """Weight of a month of the year: 1 + swing in January, 1 − swing in July, 1 on average."""
    return np.asarray(1.0 + p.season * np.cos(2.0 * np.pi * (month % 12) / 12.0))


def filter_shares(filter_fitted: Ints, p: AftercareParameters) -> tuple[Floats, Floats]:
    """Carried debris that the filter keeps, and the part of it that never reaches the heat source, by job."""
    on_return = filter_fitted == _ON_RETURN
    kept = np.where(on_return, p.filter_return, p.filter_flow) * (filter_fitted != _NO_FILTER) * p.practice_effect
    return np.asarray(kept), np.asarray(kept * np.where(on_return, 1.0, p.filter_flow_shields))


def corrosion_kg_year(left: Left, plans: Plans, p: AftercareParameters) -> Floats:
    """Magnetite made in a year after the visit: oxygen that goes on coming in, less what inhibitor prevents."""
    in_water = np.exp(-left.topups / p.washout_topups)
    prevented = p.inhibitor_stops * in_water * plans.inhibitor_dosed * p.practice_effect
    return np.asarray(p.ingress_share * left.ingress_kg_year * (1.0 - prevented))


def live_on(left: Left, houses: Houses, plans: Plans, months: int, p: AftercareParameters) -> Course:
    """Run `months` months of normal life in every house.

    Each month: consolidated → loose; new magnetite settles by wetted steel; part of the loose is carried
    round, the filter and the heat source keep some of it, the rest settles by wetted steel. What goes in
    comes out: loose + consolidated + filter + source = left + made.
    """
    loose, baked = left.loose_kg.copy(), left.consolidated_kg.copy()
    share = houses.area_m2 / houses.area_m2.sum(axis=1, keepdims=True)
    kept, shielded = filter_shares(plans.filter_fitted, p)
    made_each = corrosion_kg_year(left, plans, p) * MONTH_YEARS
    finish = np.exp(-(p.skill_log * left.skill + p.hidden_log * plans.diligence) * p.practice_effect)
    in_filter, at_source = np.zeros(len(kept)), np.zeros(len(kept))
    hazards = np.zeros((2, len(kept), months + 1))
    softens = -np.expm1(-p.loosen_per_year * MONTH_YEARS)
    for number in range(months):
        season = season_of(left.month + number, p)
        loose += softens * baked + made_each[:, None] * share
        baked *= 1.0 - softens
        carried = loose * -np.expm1(-p.move_per_year * MONTH_YEARS * season)[:, None]
        total = carried.sum(axis=1)
        loose += share * (total * (1.0 - kept) * (1.0 - p.source_share))[:, None] - carried
        in_filter += total * kept
        at_source += total * (1.0 - kept) * p.source_share
        passing_g_l = total * (1.0 - shielded) / MONTH_YEARS * G_PER_KG / left.volume_l
        rates = emitter_rate(loose, houses, p) * season, source_rate(passing_g_l, p)
        for route, rate in enumerate(rates):
            month = np.minimum(rate * finish, MOST_PER_YEAR) * MONTH_YEARS
            hazards[route, :, number + 1] = hazards[route, :, number] + month
    return Course(hazards[0], hazards[1], loose, baked, made_each * months, in_filter, at_source)


def emitter_rate(loose_kg: Floats, houses: Houses, p: AftercareParameters) -> Floats:
    """Debris hazard of all emitters of a house [1/year] in a month of average season, by loose debris per metre."""
    per_m = loose_kg * G_PER_KG / (houses.length_mm / MM_PER_M) / p.emitter_reference_g_m
    each = p.emitter_per_year * per_m**p.load_exponent * houses.present
    return np.asarray(each.sum(axis=1) * np.where(houses.layout == MICROBORE, p.microbore_ratio, 1.0))


def source_rate(passing_g_l: Floats, p: AftercareParameters) -> Floats:
    """Debris hazard of heat source and pump [1/year] by debris passing them in a year [g/L of system]."""
    return np.asarray(p.source_per_year * (passing_g_l / p.source_reference_g_l) ** p.load_exponent)


def hazard_until(cumulative: Floats, days: Ints | Floats) -> Floats:
    """Cumulative hazard on a day, straight between the months; ValueError beyond the last month."""
    at = np.asarray(days, dtype=np.float64) / DAYS_PER_YEAR / MONTH_YEARS
    if at.max(initial=0.0) > cumulative.shape[1] - 1:
        raise ValueError(f"day {np.max(days)} lies beyond the {cumulative.shape[1] - 1} months that were run")
    before = np.minimum(np.floor(at).astype(np.int64), cumulative.shape[1] - 2)
    row = np.arange(len(cumulative))
    low, high = cumulative[row, before], cumulative[row, before + 1]
    return np.asarray(low + (high - low) * (at - before))


def risk_until(cumulative: Floats, days: Ints | Floats) -> Floats:
    """Chance of at least one event until a day."""
    return np.asarray(-np.expm1(-hazard_until(cumulative, days)))
