"""Habits last; effort follows how bad a system looks; a label is never overrun."""

from dataclasses import fields, replace

import numpy as np
import pytest

from pipeline import job_log
from synthetic_data import crew, flush, house
from synthetic_data.diary import make_diary
from synthetic_data.parameters import Parameters
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks


def effort_by_looks(chunk, values):
    """Mean of a plan's column in the best- and the worst-looking third of the jobs."""
    low, high = np.quantile(chunk.survey.looks_bad, [1 / 3, 2 / 3])
    return values[chunk.survey.looks_bad < low].mean(), values[chunk.survey.looks_bad > high].mean()


@pytest.mark.parametrize(
    "values",
    [
        lambda p: p.predose_days > 0,
        lambda p: p.isolation == crew.ONE_AT_A_TIME,
        lambda p: p.agitation > 0,
        lambda p: p.heat_source > 0,
        lambda p: p.leave_wet_g_min < 4.5,
    ],
)
def test_bad_looks_bring_more_effort(chunk, values):
    good, bad = effort_by_looks(chunk, values(chunk.plans))

    assert bad > good


def test_without_indication_effort_does_not_follow_looks():
    usual = SCENARIOS["usual"]
    blind = replace(usual, parameters=replace(
        usual.parameters, crew=replace(usual.parameters.crew, indication=0.0, habit_sd=0.0)))  # fmt: skip
    chunk = next(simulate_chunks(blind, jobs=500, seed=11))
    good, bad = effort_by_looks(chunk, chunk.plans.predose_days > 0)

    # two shares from 167 jobs each: standard error of the difference 5.4 points
    assert abs(bad - good) < 0.16


def test_no_chemical_stays_in_longer_than_its_label_allows(chunk):
    label = chunk.staff.label_days[chunk.plans.engineer]

    assert (chunk.plans.predose_days <= label).all()


def test_no_engineer_starts_two_jobs_on_one_day():
    diary = make_diary(5000, 3, Parameters())
    pairs = set(zip(diary.visit_date.tolist(), diary.engineer.tolist(), strict=True))

    assert len(pairs) == 5000


def test_visits_lie_on_working_days_in_the_fixed_window_and_rise():
    diary = make_diary(777, 3, Parameters())

    assert np.is_busday(diary.visit_date).all()
    assert diary.visit_date.min() >= np.datetime64("2021-01-04")
    assert diary.visit_date.max() <= np.datetime64("2026-03-31")
    assert (np.diff(diary.visit_date).astype(int) >= 0).all()


def test_positions_in_the_contract_are_those_the_simulator_counts_on():
    assert job_log.ISOLATIONS == ("one_at_a_time", "groups", "all_open")
    assert job_log.HEAT_SOURCES == ("none", "boiler", "inline_heater", "both")
    assert job_log.AGITATIONS == ("none", "valve_bounce", "vibration", "both")
    assert job_log.FILTERS == ("none", "on_return", "on_flow", "already_there")
    assert job_log.TRAPS == ("magnet", "strainer", "machine_base")
    assert job_log.PIPE_LAYOUTS == ("two_pipe", "one_pipe", "microbore_manifold")
    assert job_log.CONNECTIONS[4] == "microbore_tails"
    assert job_log.PROPERTY_KINDS == ("house", "bungalow", "flat", "terrace", "other")
    assert house.MOST_EMITTERS == 26
    assert flush.MOST_DAYS == 3


def test_every_habit_belongs_to_every_engineer(chunk):
    lengths = {len(getattr(chunk.staff, item.name)) for item in fields(chunk.staff)}

    assert lengths == {chunk.setting.diary.engineers}
