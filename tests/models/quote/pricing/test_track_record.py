"""Quoted against done: sums by hand, and means that are drawn in by what is known of them."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from models.quote.pricing.track_record import COLUMNS, actual_cost, drawn_in, track_record
from models.refusals import NotEnoughData
from pipeline.contract.firm import Firm

FIRM = Firm(
    hourly_rate=30.0,
    travel_minutes=60.0,
    preparation_minutes=0.0,
    second_day_cost=40.0,
    cleaner_cost_per_l=10.0,
    inhibitor_cost_per_l=10.0,
    chemical_pack_l=1.0,
    filter_cost=80.0,
    water_cost_per_m3=5.0,
    water_fills=10.0,
    disposal_cost_per_kg=1.0,
    disposal_cost_per_job=10.0,
    overhead_share=0.25,
    wet_dry_ratio=2.0,
    day_minutes=480,
)


def job(number: int = 1, **more: Any) -> dict[str, Any]:
    usual = {
        "firm_id": "own",
        "job_id": f"J{number}",
        "engineer_id": "E1",
        "visit_date": date(2031, 3, 4),
        "emitter_count": 10,
        "system_volume_l": 100.0,
        "crew_size": 1,
        "filter_at_survey": False,
        "quoted_price": 500.0,
        "quoted_minutes": 300.0,
        "site_minutes": 360.0,
        "magnetite_kg": 3.0,
        "non_magnetic_kg": 1.0,
    }
    return {**dict.fromkeys(COLUMNS, np.nan), **usual, **more}


def test_the_cost_of_a_job_done_is_the_sum_by_hand() -> None:
    # labour 6 h x 30 = 180, travel 1 h x 30 = 30, cleaner 1 L 10, inhibitor 1 L 10, filter 80,
    # water 100 L x 10 = 1 m3 x 5 = 5, disposal 10 + (3 + 1) x 2 x 1 = 18: 333; overhead a quarter: 83.25
    assert actual_cost(pd.DataFrame([job()]), FIRM).tolist() == [pytest.approx(416.25)]


def test_a_second_day_costs_its_travel_and_its_own_sum() -> None:
    one, two = actual_cost(pd.DataFrame([job(site_minutes=480.0), job(site_minutes=482.0)]), FIRM)

    # two minutes of labour 1, travel 30, second day 40, each with a quarter of overhead
    assert two - one == pytest.approx(1.25 * (1 + 30 + 40))


def test_what_was_fitted_dosed_and_how_many_days_it_took_count_as_the_log_tells() -> None:
    none_fitted, dosed, two_days, one_long_day = (
        actual_cost(
            pd.DataFrame(
                [
                    job(filter_fitted="none"),
                    job(is_predosed=True),
                    job(is_second_day=True),
                    job(is_second_day=False, site_minutes=600.0),
                ]
            ),
            FIRM,
        )
        - 416.25
    )

    # less the filter 80; an hour and a half of one person 45; travel 30, second day 40; 240 minutes of labour 120
    assert [none_fitted, dosed, two_days, one_long_day] == pytest.approx([-100, 56.25, 87.5, 150])


def test_what_was_left_and_what_was_lost() -> None:
    record = track_record(pd.DataFrame([job(1), job(2, quoted_price=400.0), job(3, quoted_price=None)]), FIRM)

    assert record.loss_share == 0.5
    assert record.kept_share == pytest.approx((900 - 2 * 416.25) / 900)
    assert record.minutes_over == 60.0
    assert record.minutes_inside is None


def test_a_job_done_for_nothing_has_no_share_of_its_price() -> None:
    record = track_record(pd.DataFrame([job(1), job(2, quoted_price=0.0)]), FIRM)

    assert record.jobs["kept"].tolist() == pytest.approx([500 - 416.25, -416.25])
    assert np.isnan(record.jobs["kept_share"].tolist()[1])


def test_a_system_of_which_nothing_is_known_has_eight_emitters_of_ten_litres() -> None:
    unknown = job(emitter_count=np.nan, system_volume_l=np.nan)

    # 80 L: cleaner 1 L, inhibitor 1 L in packs of 1 L, water 80 L x 10 = 0.8 m3 x 5 = 4, so 1 less
    assert actual_cost(pd.DataFrame([unknown]), FIRM).tolist() == [pytest.approx(416.25 - 1.25 * 1.0)]


def test_jobs_quoted_with_a_range_count_as_in_or_out() -> None:
    ranged = {"low_minutes": 200.0, "high_minutes": 400.0, "low_kg": 1.0, "high_kg": 2.0}

    record = track_record(pd.DataFrame([job(1, **ranged), job(2, **ranged, site_minutes=500.0), job(3)]), FIRM)

    assert (record.ranged_jobs, record.minutes_inside, record.kilograms_inside) == (2, 0.5, 0.0)


def test_groups_under_five_jobs_are_not_named() -> None:
    jobs = [job(n, engineer_id="E1") for n in range(6)] + [job(10 + n, engineer_id=f"X{n}") for n in range(4)]

    names = {group.name for group in track_record(pd.DataFrame(jobs), FIRM).groups if group.by == "engineer"}

    assert names == {"E1", "others, under 5 jobs each"}


def test_only_a_group_surely_under_the_target_is_called_underpriced() -> None:
    chance = np.random.default_rng(4)
    cheap = [job(n, quoted_price=float(p)) for n, p in enumerate(chance.normal(400, 20, 40))]
    fair = [job(100 + n, emitter_count=5, quoted_price=float(p)) for n, p in enumerate(chance.normal(560, 20, 40))]

    groups = track_record(pd.DataFrame(cheap + fair), FIRM).groups

    assert {g.name: g.is_underpriced for g in groups if g.by == "size"} == {
        "up to 8 emitters": False,
        "9 to 14 emitters": True,
    }


def test_nothing_quoted_is_refused() -> None:
    with pytest.raises(NotEnoughData, match="at least 1 job"):
        track_record(pd.DataFrame([job(quoted_price=None)]), FIRM)


def test_equal_means_are_drawn_together_and_far_ones_are_not() -> None:
    chance = np.random.default_rng(1)
    same = drawn_in([chance.normal(0, 1, 20) for _ in range(8)])
    apart = drawn_in([chance.normal(mean, 1, 200) for mean in (-10.0, 0.0, 10.0)])

    assert np.ptp(same[:, 0]) < 0.6
    assert apart[:, 0] == pytest.approx([-10, 0, 10], abs=0.3)


def test_intervals_of_drawn_means_cover_as_they_say() -> None:
    chance = np.random.default_rng(7)
    inside = []
    for _ in range(300):
        truth = chance.normal(5.0, 2.0, 12)
        sizes = [6, 12, 25, 50] * 3
        found = drawn_in([chance.normal(mean, 6.0, size) for mean, size in zip(truth, sizes, strict=True)])
        inside.append((found[:, 1] <= truth) & (truth <= found[:, 2]))

    # 3,600 intervals of 95 %, twelve at a time from one firm: standard error about half a point
    assert 0.93 < np.mean(inside) < 0.97


def test_nothing_left_is_no_loss_and_a_penny_less_is() -> None:
    jobs = [job(1, quoted_price=416.25), job(2, quoted_price=416.24), job(3, quoted_price=417.0), job(4)]

    record = track_record(pd.DataFrame(jobs), FIRM)

    assert record.loss_share == 0.25
    assert list(record.jobs.columns) == [*COLUMNS, "actual_cost", "kept", "kept_share", "minutes_over"]


def test_a_group_by_hand_two_engineers_of_two_firms_that_share_job_numbers() -> None:
    """Costs 416.25. E1 asks 500 five times (kept 83.75, a share of 0.1675), E2 asks 400, 450, 500, 550, 600. Of two
    groups the means stand as they are; variances within are pooled: 4 + 4 degrees of freedom."""
    asked = [400.0, 450.0, 500.0, 550.0, 600.0]
    jobs = [job(n, engineer_id="E1") for n in range(5)]
    jobs += [
        job(n, firm_id="b", engineer_id="E2", quoted_price=p, site_minutes=360.0, quoted_minutes=360.0 + 10 * n)
        for n, p in enumerate(asked)
    ]

    groups = {g.name: g for g in track_record(pd.DataFrame(jobs), FIRM).groups if g.by == "engineer"}

    shares = np.array([1 - 416.25 / p for p in asked])
    one, two = groups["E1"], groups["E2"]
    half = 1.959964 * np.sqrt(((shares - shares.mean()) ** 2).sum() / 8 / 5)
    assert (one.kept_share, one.kept_low, one.kept_high) == pytest.approx((0.1675, 0.1675 - half, 0.1675 + half))
    assert (two.kept_share, two.loss_share, two.jobs) == (pytest.approx(shares.mean()), 0.2, 5)
    # 60 over each time; 0, −10, …, −40: mean −20, squares 1,000 of 8 degrees of freedom
    wide = 1.959964 * np.sqrt(1000 / 8 / 5)
    assert (one.minutes_over, two.minutes_over) == pytest.approx((60.0, -20.0))
    assert (one.minutes_low, two.minutes_high) == pytest.approx((60.0 - wide, -20.0 + wide))


def test_means_of_four_groups_are_drawn_in_by_hand() -> None:
    """Sizes 2, 2, 4, 4, all 1 off their means 0, 4, 2, 6: within 12 / 8 = 1.5, errors 3/4, 3/4, 3/8, 3/8, weights
    4/3, 4/3, 8/3, 8/3, centre 10/3, Q 1056/27; between (Q − 3) / (8 − 20/9) = 6.25. Pulls (1/3)·0.75/7 = 1/28 and
    1/53."""
    groups = [np.array([-1.0, 1.0]) + mean for mean in (0.0, 4.0)]
    groups += [np.array([-1.0, 1.0, -1.0, 1.0]) + mean for mean in (2.0, 6.0)]

    found = drawn_in([*groups, np.zeros(0)])

    assert found[:4, 0] == pytest.approx(
        [10 / 84, 10 / 3 + 27 / 28 * 2 / 3, 10 / 3 - 52 / 53 * 4 / 3, 10 / 3 + 52 / 53 * 8 / 3]
    )
    # variance of the first: 0.75·(1 − (3/4)/28) + 2·(1/28)²·(10/3)² = 0.758255
    half = 1.959964 * np.sqrt(0.758255)
    assert found[0, 1:] == pytest.approx([10 / 84 - half, 10 / 84 + half], rel=1e-5)
    assert np.isnan(found[4]).all()
    assert drawn_in([np.zeros(0)]).shape == (1, 3)


def test_groups_of_one_job_each_have_no_spread_to_be_drawn_by() -> None:
    assert drawn_in([np.array([3.0]), np.array([5.0])])[:, 0] == pytest.approx([3.0, 5.0])
