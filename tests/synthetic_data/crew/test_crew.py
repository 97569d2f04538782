"""Habits last; effort follows how bad a system looks; a label is never overrun."""

from dataclasses import fields, replace

import numpy as np
import pytest

from pipeline.contract import job_log
from synthetic_data.crew import crew
from synthetic_data.crew.diary import make_diary
from synthetic_data.flush import flush
from synthetic_data.house import house
from synthetic_data.logbook.jobs_table import write_tables
from synthetic_data.parameters import Parameters
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks
from synthetic_data.streams import stream


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
    blind = replace(
        usual, parameters=replace(usual.parameters, crew=replace(usual.parameters.crew, indication=0.0, habit_sd=0.0))
    )
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
    assert job_log.PROPERTY_KINDS[:5] == ("house", "bungalow", "flat", "terrace", "other")
    assert house.MOST_EMITTERS == 26
    assert flush.MOST_DAYS == 3


def test_every_habit_belongs_to_every_engineer(chunk):
    lengths = {len(getattr(chunk.staff, item.name)) for item in fields(chunk.staff)}

    assert lengths == {chunk.setting.diary.engineers}


def test_engineers_differ_and_stay_what_they_are(many):
    # leave-one-at-a-time shares by engineer scatter far more than chance would have them
    engineer = np.concatenate([chunk.plans.engineer for chunk in many])
    focused = np.concatenate([chunk.plans.isolation == crew.ONE_AT_A_TIME for chunk in many])
    counts = np.bincount(engineer)
    shares = np.bincount(engineer, weights=focused) / counts
    chance = (focused.mean() * (1 - focused.mean()) / counts).mean()

    assert shares.var() > 3 * chance
    assert all((chunk.staff.focus == many[0].staff.focus).all() for chunk in many)


def test_wet_over_dry_follows_from_porosity():
    # arithmetic for a packed bed of magnetite, porosity 0.6 to 0.9
    assert crew.wet_dry_ratio(np.array([0.6, 0.9])) == pytest.approx([1.29, 2.74], abs=0.005)
    assert crew.wet_dry_ratio(np.array([0.2, 0.99])) == pytest.approx(crew.wet_dry_ratio(np.array([0.6, 0.9])))


def test_wet_catches_weigh_between_1_3_and_2_7_times_the_dry_ones(chunk):
    ratio = chunk.plans.wet_ratio

    assert 1.29 <= ratio.min()
    assert ratio.max() <= 2.74
    assert np.median(ratio) == pytest.approx(1.9, abs=0.1)


def test_the_last_rinse_changes_the_water_at_mains_flow(chunk):
    p = chunk.plans
    changes = p.rinse_minutes * p.mains_l_min / chunk.systems.volume_l
    inside = (p.rinse_minutes > 5) & (p.rinse_minutes < 150)

    assert np.median(changes[inside]) == pytest.approx(3.2, rel=0.1)
    assert (p.mains_l_min >= 8).all()
    assert (p.mains_l_min <= 25).all()


def test_nobody_weighs_at_lunch(chunk):
    w, p = chunk.flush.weighings, chunk.plans
    flushing = (w.trap == 0) & (w.wall_min < chunk.flush.end_min[w.row] - p.rinse_minutes[w.row])
    since = w.wall_min % 1440 - p.lunch_at_min[w.row]
    at_lunch = (since >= 0) & (since < p.lunch_minutes[w.row])

    assert (p.lunch_minutes > 0).mean() > 0.3
    # the last weighing before the rinse may fall into it: the flow is over then
    assert (at_lunch & flushing).sum() == 0


def test_those_who_go_by_the_clock_stay_as_long_whatever_comes(chunk):
    by_clock = chunk.staff.by_clock[chunk.plans.engineer]

    assert (chunk.plans.leave_wet_g_min[by_clock] > 1e5).all()
    assert (chunk.plans.leave_wet_g_min[~by_clock] < 100).all()


def test_care_on_the_day_moves_choices_only_where_it_is_hidden_skill(chunk, hidden_chunk):
    # 500 jobs: standard error of a correlation 0.045
    usual, moved = (
        np.corrcoef(c.plans.diligence, c.plans.isolation == crew.ONE_AT_A_TIME)[0, 1] for c in (chunk, hidden_chunk)
    )

    assert abs(usual) < 0.18
    assert moved > 0.15


def test_care_on_the_day_is_in_no_column_that_a_survey_fills(hidden_chunk):
    jobs = write_tables(stream(11, "gaps"), stream(11, "readings"), hidden_chunk)["jobs"]
    care = hidden_chunk.plans.diligence

    assert not {"skill", "diligence", "care"} & set(jobs.columns)
    for name in ("topups_per_year", "survey_turbidity_ntu", "install_year", "main_bore_mm", "boiler_output_kw"):
        known = jobs[name].is_not_null().to_numpy()
        assert abs(np.corrcoef(jobs[name].to_numpy()[known], care[known])[0, 1]) < 0.25, name
