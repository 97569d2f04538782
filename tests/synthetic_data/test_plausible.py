"""Bands of plausibility: common practice, no source. Wide on purpose."""

import numpy as np
import pytest

from pipeline.contract.job_log import CAUSES


@pytest.fixture(scope="module")
def caught_kg(chunk):
    return chunk.flush.end.caught.sum(axis=1)


def test_usual_catches_are_a_few_hundred_grams_to_a_few_kilograms(caught_kg):
    low, middle, high = np.quantile(caught_kg, [0.1, 0.5, 0.9])

    assert 0.1 < low < 0.8
    assert 0.8 < middle < 2.5
    assert 2.5 < high < 7


def test_thirteen_and_a_half_kilograms_are_rare_but_not_out_of_reach(many):
    # "13.5 kg came from one system of 15 emitters": wet, and told as remarkable, so under 1 in 100
    wet = np.concatenate([chunk.flush.end.caught.sum(axis=1) * chunk.plans.wet_ratio for chunk in many])

    # three standard errors of a share of 0.01 from 2000 jobs
    assert 0 < (wet > 13.5).mean() < 0.01 + 3 * np.sqrt(0.01 * 0.99 / 2000)
    assert wet.max() < 30


def test_a_twentieth_to_a_fifth_of_the_magnetite_goes_down_the_drain(many):
    rinsed, all_of_it = (
        sum(part(chunk) for chunk in many)
        for part in (lambda c: c.flush.end.rinsed.sum(), lambda c: c.fouling.magnetite_kg.sum())
    )

    assert 0.05 < rinsed / all_of_it < 0.2


def test_houses_without_sand_differ_in_what_is_not_magnetic(chunk):
    bare = ~chunk.fouling.has_sand
    sand = chunk.fouling.sand_kg.sum(axis=1)[bare]
    share = sand / (sand + chunk.fouling.magnetite_kg[bare])
    low, middle, high = np.quantile(share, [0.05, 0.5, 0.95])

    # 0.05 × e^(±1.645 · 0.9) of the magnetite: 0.011 and 0.22 a part of magnetite
    assert low == pytest.approx(0.011, abs=0.004)
    assert middle == pytest.approx(0.048, abs=0.008)
    assert high == pytest.approx(0.18, abs=0.04)


def test_leaks_come_within_a_month_of_the_clean(many):
    leaks = sum(int(((c.callbacks.days <= 30) & (c.callbacks.cause == CAUSES.index("leak"))).sum()) for c in many)

    # planted 1.2 % and 0.04 % a year of age, some 2 %; besides 0.2 % of every month
    assert 0.01 < leaks / 2000 < 0.035


def test_a_flush_takes_half_a_day_to_a_day_and_some_take_two(chunk):
    one_day = chunk.flush.end.day == 0
    minutes = (chunk.flush.end_min - chunk.flush.start_min)[one_day]

    # most jobs half a day to a day
    assert 180 < np.median(minutes) < 400
    assert ((minutes > 90) & (minutes < 10 * 60)).mean() > 0.9
    assert 0.02 < 1 - one_day.mean() < 0.25


def test_part_of_the_sludge_stays_behind_everywhere(chunk, caught_kg):
    # what was rinsed to waste is out as well, though nobody weighed it
    share = (caught_kg + chunk.flush.end.rinsed.sum(axis=1)) / chunk.fouling.magnetite_kg

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
