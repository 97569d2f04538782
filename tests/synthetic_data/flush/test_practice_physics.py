"""What the trade swears by helps in this world by way of the mechanism (common practice, no source)."""

import numpy as np
import pytest

from synthetic_data.chunk import flush_with, plan, set_up
from synthetic_data.crew.practices import with_practice

JOBS = 120


@pytest.fixture(scope="module")
def few(drawn):
    """A hundred and twenty houses and the plans of their crews."""
    setting = drawn("usual", JOBS, 21)[0].setting
    again = set_up(setting.scenario, 21, setting.diary, setting.staff, 0, slice(0, JOBS))
    return again, plan(again)


def left_share(few, column, value):
    """Share of each house's magnetite that is left, all doing that one thing so."""
    setting, plans = few
    done, _ = flush_with(setting, with_practice(plans, column, value, setting.houses, setting.staff))
    return (done.end.loose + done.end.consolidated).sum(axis=1) / setting.fouling.magnetite_kg


@pytest.mark.parametrize(
    ("column", "better", "worse"),
    [
        ("isolation", "one_at_a_time", "all_open"),
        ("connection", "boiler_flow_return", "emitter_valves"),
        pytest.param("heat_source", "boiler", "none", marks=pytest.mark.study),
        pytest.param("predose_days", 7, 0, marks=pytest.mark.study),
        pytest.param("agitation", "vibration", "none", marks=pytest.mark.study),
        pytest.param("flow_reversed", True, False, marks=pytest.mark.study),
    ],
)
def test_a_good_practice_leaves_less_behind(few, column, better, worse):
    """Where the water goes, by isolation and connection, finds a flow that no longer lifts debris at all; the study
    adds what each other practice does of its own: heat, chemical, shaking, reversing."""
    first, second = left_share(few, column, better), left_share(few, column, worse)
    gain = second - first

    assert gain.mean() > 3.0 * gain.std() / np.sqrt(JOBS)
    assert np.median(gain) > 0.0


def test_the_same_plan_flushed_again_leaves_the_same(few):
    setting, plans = few
    (one, _), (two, _) = flush_with(setting, plans), flush_with(setting, plans)

    assert (one.end.bed == two.end.bed).all()
    assert (one.weighings.wet_kg == two.weighings.wet_kg).all()
