"""After the visit: debris moves by the planted rates, and what was done changes hazards as planted."""

from dataclasses import replace

import numpy as np
import pytest

from synthetic_data.aftercare import aftercare
from synthetic_data.parameters import AftercareParameters

USUAL = AftercareParameters()


@pytest.fixture
def live(chunk):
    """A maker of courses of one year: the same 0.2 kg loose in every emitter, plans and numbers changed at will."""
    jobs, present = chunk.jobs, chunk.houses.present

    def run(*, loose=0.2, baked=0.0, ingress=0.0, months=12, filter_fitted=0, inhibitor=False, **numbers):
        left = aftercare.Left(
            loose * present,
            baked * present,
            np.full(jobs, 100.0),
            np.full(jobs, ingress),
            np.zeros(jobs),
            np.zeros(jobs, dtype=int),
            np.zeros(jobs),
        )
        plans = replace(
            chunk.plans,
            filter_fitted=np.full(jobs, filter_fitted),
            diligence=np.zeros(jobs),
            inhibitor_dosed=np.full(jobs, inhibitor),
        )
        return aftercare.live_on(left, chunk.houses, plans, months, replace(USUAL, **numbers))

    return run


@pytest.mark.parametrize("filter_fitted", [0, 1, 2, 3])
def test_what_goes_in_comes_out(live, chunk, filter_fitted):
    course = live(baked=0.3, ingress=0.2, filter_fitted=filter_fitted, months=60, ingress_share=1.0)
    after = (course.loose_kg + course.consolidated_kg).sum(axis=1) + course.filter_kg + course.source_kg
    before = 0.5 * chunk.houses.emitter_count + 0.2 * 5

    assert course.made_kg == pytest.approx(1.0)
    assert np.abs(after - before).max() < 1e-9


def test_consolidated_debris_comes_loose_by_the_planted_rate(live, chunk):
    course = live(loose=0.0, baked=0.3, loosen_per_year=0.7)

    # first-order decay over a year
    assert course.consolidated_kg.sum(axis=1) / chunk.houses.emitter_count == pytest.approx(0.3 * np.exp(-0.7))


def test_a_filter_keeps_its_share_of_what_comes_round(live, chunk):
    course = live(filter_fitted=1, filter_return=1.0, source_share=0.0, season=0.0, move_per_year=0.9)

    # everything carried is kept, so loose debris decays at the rate of movement
    assert course.loose_kg.sum(axis=1) / chunk.houses.emitter_count == pytest.approx(0.2 * np.exp(-0.9))


def test_inhibitor_prevents_its_share_of_new_debris(live):
    plain, dosed = (live(ingress=0.5, inhibitor=given).made_kg for given in (False, True))

    assert dosed / plain == pytest.approx(1 - USUAL.inhibitor_stops)


def test_topping_up_washes_inhibitor_out(chunk):
    jobs = chunk.jobs
    left = aftercare.Left(
        chunk.fouling.loose_kg,
        chunk.fouling.loose_kg,
        np.ones(jobs),
        np.ones(jobs),
        np.full(jobs, 10.0),
        np.zeros(jobs, dtype=int),
        np.zeros(jobs),
    )
    dosed = replace(chunk.plans, inhibitor_dosed=np.ones(jobs, dtype=bool))
    made = aftercare.corrosion_kg_year(left, dosed, replace(USUAL, ingress_share=1.0, washout_topups=10.0))

    assert made == pytest.approx(1 - USUAL.inhibitor_stops * np.exp(-1))


def test_a_filter_on_the_return_shields_the_heat_source_most(live):
    none, on_return, on_flow = (live(filter_fitted=kind).source_hazard[:, -1] for kind in (0, 1, 2))

    assert (on_return < on_flow).all()
    assert (on_flow < none).all()


@pytest.mark.parametrize("exponent", [0.7, 1.0])
def test_more_left_behind_means_more_callbacks_by_the_planted_power(live, exponent):
    small, large = (live(loose=kg, load_exponent=exponent, months=1).emitter_hazard[:, -1] for kg in (0.001, 0.004))

    assert large / small == pytest.approx(4**exponent)


def test_winter_brings_more_than_summer_and_a_year_is_a_year():
    season = aftercare.season_of(np.arange(12), USUAL)

    assert season[0] == season.max() == 1 + USUAL.season
    assert season[6] == season.min()
    assert season.mean() == pytest.approx(1.0)


def test_a_skilled_finish_lowers_the_hazard_as_planted(live, chunk):
    jobs = chunk.jobs
    hazards = [
        aftercare.live_on(
            aftercare.Left(
                0.05 * chunk.houses.present,
                0.0 * chunk.houses.present,
                np.full(jobs, 100.0),
                np.zeros(jobs),
                np.zeros(jobs),
                np.zeros(jobs, dtype=int),
                np.full(jobs, skill),
            ),
            chunk.houses,
            chunk.plans,
            12,
            USUAL,
        ).debris_hazard[:, -1]
        for skill in (0.0, 1.0)
    ]

    assert hazards[1] / hazards[0] == pytest.approx(np.exp(-USUAL.skill_log))


def test_where_practice_does_nothing_the_future_does_not_know_what_was_done(drawn):
    chunk = drawn("no_effects", 250, 8)[0]
    other = replace(
        chunk.plans,
        filter_fitted=np.ones(chunk.jobs, dtype=int),
        diligence=chunk.plans.diligence + 3,
        inhibitor_dosed=~chunk.plans.inhibitor_dosed,
    )
    from synthetic_data.chunk import outcome

    again = outcome(chunk.setting, other, chunk.outcome)
    assert again.risk == pytest.approx(chunk.outcome.risk, abs=1e-15)


def test_hazard_is_read_off_between_the_months_and_never_beyond():
    cumulative = np.array([[0.0, 0.1, 0.3]])
    month = 365.25 / 12

    assert aftercare.hazard_until(cumulative, np.array([1.5 * month])) == pytest.approx([0.2])
    with pytest.raises(ValueError, match="beyond the 2 months"):
        aftercare.hazard_until(cumulative, np.array([2.1 * month]))
