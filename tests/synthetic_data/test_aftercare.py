"""Callbacks follow their hazards, and stop where follow-up stops."""

from dataclasses import replace

import numpy as np
import pytest

from synthetic_data.aftercare import call_back, debris_driver_g_l, hazards_per_year
from synthetic_data.parameters import Parameters


def draw(houses, hazards, days=365, seed=1):
    jobs = len(hazards)
    followed, last = np.full(jobs, days), np.zeros(jobs, dtype=np.int64)
    return call_back(np.random.default_rng(seed), houses, hazards, last, followed)


def repeated(houses, times):
    return replace(houses, layout=np.tile(houses.layout, times))


@pytest.mark.parametrize("hazard", [0.05, 0.3])
def test_the_share_called_back_in_a_year_is_that_of_the_hazard(chunk, hazard):
    houses = repeated(chunk.houses, 20)
    hazards = np.column_stack([np.full(10_000, hazard), np.zeros((10_000, 3))])
    share = len(np.unique(draw(houses, hazards).row)) / 10_000
    expected = 1 - np.exp(-hazard * 365 / 365.25)

    # three standard errors of a share from 10 000 jobs
    assert share == pytest.approx(expected, abs=3 * np.sqrt(expected * (1 - expected) / 10_000))


def test_a_filter_and_inhibitor_lower_the_hazard_by_the_planted_ratios(chunk):
    driver, parameters = np.full(chunk.jobs, 10.0), Parameters()
    bare = replace(chunk.plans, filter_fitted=np.zeros(chunk.jobs, dtype=int),
                   inhibitor_dosed=np.zeros(chunk.jobs, dtype=bool))  # fmt: skip
    filtered = replace(bare, filter_fitted=np.ones(chunk.jobs, dtype=int))
    dosed = replace(bare, inhibitor_dosed=np.ones(chunk.jobs, dtype=bool))

    plain, with_filter, with_inhibitor = (
        hazards_per_year(chunk.houses, plan, driver, parameters)[:, 0] for plan in (bare, filtered, dosed)
    )
    assert with_filter / plain == pytest.approx(0.6)
    assert with_inhibitor / plain == pytest.approx(0.75)


def test_more_left_behind_means_more_callbacks(chunk):
    small, large = (
        hazards_per_year(chunk.houses, chunk.plans, np.full(chunk.jobs, g_l), Parameters())[:, 0] for g_l in (5.0, 20.0)
    )

    # 4^0.9
    assert large / small == pytest.approx(4**0.9)


def test_where_practices_do_nothing_the_hazard_does_not_know_what_was_done(null_chunk):
    parameters, chunk = null_chunk.parameters, null_chunk
    before, volume = chunk.fouling.magnetite_kg, chunk.systems.volume_l
    dirty, clean = (debris_driver_g_l(share * before, before, volume, parameters) for share in (0.9, 0.1))
    other = replace(chunk.plans, filter_fitted=np.ones(chunk.jobs, dtype=int))

    assert dirty == pytest.approx(clean)
    assert hazards_per_year(chunk.houses, other, dirty, parameters) == pytest.approx(chunk.hazards_per_year)


def test_callbacks_lie_between_the_last_day_on_site_and_the_end_of_follow_up(chunk):
    calls = chunk.callbacks

    assert (calls.days <= chunk.followed_days[calls.row]).all()
    assert (calls.days > (chunk.flush.end_min // 1440)[calls.row]).all()


def test_late_jobs_are_followed_for_less_than_a_year(chunk):
    assert (chunk.followed_days < 365).any()
    assert (chunk.followed_days > 3 * 365).any()
