"""Bands of plausibility: common practice, no source. Wide on purpose."""

import numpy as np
import pytest


@pytest.fixture(scope="module")
def caught_kg(chunk):
    return chunk.flush.end.caught.sum(axis=1)


def test_usual_catches_are_a_few_hundred_grams_to_a_few_kilograms(caught_kg):
    low, middle, high = np.quantile(caught_kg, [0.1, 0.5, 0.9])

    assert 0.1 < low < 0.8
    assert 0.8 < middle < 2.5
    assert 2.5 < high < 7


def test_thirteen_and_a_half_kilograms_are_rare_but_not_out_of_reach(many):
    # "13.5 kg came from one system of 15 emitters"
    caught = np.concatenate([chunk.flush.end.caught.sum(axis=1) for chunk in many])

    assert (caught > 9).mean() < 0.03
    assert 9 < caught.max() < 25


def test_a_flush_takes_half_a_day_to_a_day_and_some_take_two(chunk):
    one_day = chunk.flush.end.day == 0
    minutes = (chunk.flush.end_min - chunk.flush.start_min)[one_day]

    # most jobs half a day to a day
    assert 180 < np.median(minutes) < 400
    assert ((minutes > 90) & (minutes < 10 * 60)).mean() > 0.9
    assert 0.02 < 1 - one_day.mean() < 0.25


def test_part_of_the_sludge_stays_behind_everywhere(chunk, caught_kg):
    share = caught_kg / chunk.fouling.magnetite_kg

    assert share.max() < 0.97
    assert 0.45 < np.median(share) < 0.8


def test_debris_callbacks_are_the_exception(chunk):
    assert 0.05 < chunk.outcome.risk.mean() < 0.2


def test_houses_have_3_to_26_emitters_and_tens_of_litres(chunk):
    count, volume = chunk.houses.emitter_count, chunk.systems.volume_l

    assert count.min() >= 3
    assert count.max() <= 26
    assert 8 <= np.median(count) <= 12
    # about 7–10 L per panel with its share of pipe
    assert 5 < np.median(volume / count) < 11


def test_old_systems_are_more_often_open_vented(chunk):
    h = chunk.houses

    assert h.vented[h.age_years > 30].mean() > 0.6 > 0.3 > h.vented[h.age_years < 12].mean()


def test_cold_emitters_hold_more_than_warm_ones(chunk):
    each = chunk.fouling.loose_kg + chunk.fouling.consolidated_kg
    cold, warm = (each[chunk.houses.present & (chunk.survey.cold == is_cold)] for is_cold in (True, False))

    assert np.median(cold) > 2 * np.median(warm)


def test_raw_shares_hide_what_effort_does(chunk):
    # confounding by indication: pre-dosed systems were worse, give up a larger share, and are not much safer
    dosed = chunk.plans.predose_days > 0
    per_l = chunk.fouling.magnetite_kg / chunk.systems.volume_l

    assert per_l[dosed].mean() > 1.2 * per_l[~dosed].mean()


def test_neglected_stock_is_dirtier(chunk, drawn):
    neglected = drawn("neglected_stock", 250, 8)[0]

    assert np.median(neglected.fouling.magnetite_kg) > 1.3 * np.median(chunk.fouling.magnetite_kg)
