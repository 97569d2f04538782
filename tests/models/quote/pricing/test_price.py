"""The price, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.quote.pricing.price import (
    PART_NAMES,
    Work,
    bought,
    chance_of_loss,
    cost_parts,
    day_length,
    prices,
    round_up,
)
from models.quote.pricing.scenarios import volumes_at
from pipeline.contract.firm import Firm

FIRM = Firm(
    hourly_rate=30.0,
    travel_minutes=60.0,
    preparation_minutes=20.0,
    second_day_cost=50.0,
    cleaner_dose_l_per_100_l=1.0,
    cleaner_cost_per_l=20.0,
    inhibitor_dose_l_per_100_l=2.0,
    inhibitor_cost_per_l=10.0,
    chemical_pack_l=1.0,
    filter_cost=90.0,
    water_cost_per_m3=5.0,
    water_fills=10.0,
    disposal_cost_per_kg=0.5,
    disposal_cost_per_job=10.0,
    wet_dry_ratio=2.0,
    overhead_share=0.1,
    target_margin_share=0.2,
    accepted_chance_of_loss=0.1,
    price_step=5.0,
    tax_share=0.2,
)


def _work(site_minutes: list[float], *, filter_there: bool = False, predosed: bool = False) -> Work:
    site = np.array([site_minutes])
    return Work(
        site_minutes=site,
        magnetite_kg=np.full_like(site, 3.0),
        non_magnetic_kg=np.full_like(site, 1.0),
        volume_l=np.array([[120.0]]),
        crew=np.array([2.0]),
        filter_there=np.array([filter_there]),
        predosed=np.array([predosed]),
        day_minutes=np.array([480.0]),
    )


def test_each_part_of_the_cost_by_hand() -> None:
    # 2 people at 30 an hour are 1 a minute; 500 minutes are two days; 120 L: 1.2 L -> 2 L cleaner, 2.4 L -> 3 L
    # inhibitor, 1.2 m³ water; 4 kg dry are 8 kg wet
    parts = dict(zip(PART_NAMES, cost_parts(_work([500.0]), FIRM)[0, 0], strict=True))

    assert parts == pytest.approx(
        {
            "Labour on site": 500,
            "Travel": 120,
            "Preparation": 20,
            "Second day": 50,
            "Pre-dose visit": 0,
            "Cleaning chemical": 40,
            "Inhibitor": 30,
            "Magnetic filter": 90,
            "Water": 6,
            "Disposal": 14,
            "Expected callbacks": 0,
            "Overhead": 87,
        }
    )


def test_a_filter_that_is_there_costs_nothing_and_one_day_has_one_journey() -> None:
    parts = dict(zip(PART_NAMES, cost_parts(_work([480.0], filter_there=True), FIRM)[0, 0], strict=True))

    assert parts["Magnetic filter"] == 0
    assert parts["Travel"] == 60
    assert parts["Second day"] == 0


def test_the_price_is_the_cost_that_one_job_in_ten_exceeds() -> None:
    # 60 + 20 + 40 + 30 + 90 + 6 + 14 = 260 besides labour, so cost = 1.1·(minutes + 260), minutes 2, 4, …, 198;
    # rank ceil(100·0.9) = 90 of 99 is minute 180: 484, rounded up to 485
    work = _work([2.0 * i for i in range(1, 100)])

    price = prices(work, replace(FIRM, target_margin_share=0.0))[0]

    assert price.price == 485.0
    assert price.set_by == "chance_of_loss"
    assert price.chance_of_loss == pytest.approx(0.1)  # minutes 182 … 198: 9 costs above, (9 + 1) / 100
    assert price.price_with_tax == 582.0


def test_the_margin_decides_where_it_asks_for_more() -> None:
    # median minute 100: cost 1.1·360 = 396; 396 / 0.8 = 495
    price = prices(_work([2.0 * i for i in range(1, 100)]), FIRM)[0]

    assert price.price == 495.0
    assert price.set_by == "margin"
    assert price.chance_of_loss == pytest.approx(0.05)  # minutes 192 … 198: 4 costs above, (4 + 1) / 100
    assert price.cost.p50 == pytest.approx(396.0)


def test_the_lowest_price_holds() -> None:
    price = prices(_work([100.0] * 99), replace(FIRM, lowest_price=903.0))[0]

    assert (price.price, price.set_by) == (905.0, "lowest_price")


def test_parts_add_up_to_the_median_cost_and_the_curve_falls() -> None:
    rng = np.random.default_rng(1)
    price = prices(_work(rng.gamma(9, 50, 200).tolist()), FIRM)[0]

    assert sum(part.amount for part in price.parts) == pytest.approx(price.cost.p50)
    chances = [point.chance_of_loss for point in price.curve]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] == 1.0
    assert price.chance_of_loss in chances
    assert any(point.price == price.price for point in price.curve)


VOLUMES = volumes_at(np.arange(1, 100) / 100, np.array([[80.0, 100.0, 150.0]]))
"""Ninety-nine even ranks of a system of 80 to 150 L."""


def test_the_price_follows_the_range_of_the_volume_by_whole_containers() -> None:
    # every job 100 + 60 + 20 + 90 + 14 = 284 besides water and chemical. The 90th volume is 100 + 50 x 0.8 = 140 L:
    # 2 L cleaner 40, 3 L inhibitor 30, water 7; 1.1 x 361 = 397.1. At the middle 100 L: 20, 20, 5; 1.1 x 329 = 361.9
    firm = replace(FIRM, target_margin_share=0.0)
    known = _work([100.0] * 99)

    ranged = prices(replace(known, volume_l=VOLUMES), firm)[0]
    at_middle = prices(replace(known, volume_l=np.array([[100.0]])), firm)[0]

    assert (ranged.cost.p90, ranged.price) == (pytest.approx(397.1), 400.0)
    assert (at_middle.cost.p90, at_middle.price) == (pytest.approx(361.9), 365.0)
    assert ranged.cost.p50 == pytest.approx(361.9)


def test_parts_add_up_to_the_median_and_a_container_too_many_counts_in_part() -> None:
    price = prices(replace(_work([100.0] * 99), volume_l=VOLUMES), FIRM)[0]

    parts = {part.name: part.amount for part in price.parts}
    assert sum(parts.values()) == pytest.approx(price.cost.p50, abs=1e-9)
    assert (parts["Labour on site"], parts["Magnetic filter"], parts["Disposal"]) == pytest.approx((100, 90, 14))
    assert 20 < parts["Cleaning chemical"] < 40  # one container up to the middle volume, two above it


@pytest.mark.parametrize("accepted", [0.01, 0.05, 0.1, 0.3, 0.5])
def test_rounding_never_exceeds_the_accepted_chance(accepted: float) -> None:
    rng = np.random.default_rng(3)
    firm = replace(FIRM, accepted_chance_of_loss=accepted, target_margin_share=0.0)

    for scenarios in (199, 250, 400):
        price = prices(_work(rng.gamma(9, 50, scenarios).tolist()), firm)[0]

        assert price.chance_of_loss is not None
        assert price.chance_of_loss <= accepted + 1e-12


@pytest.mark.parametrize(("price", "step", "rounded"), [(101.0, 5.0, 105.0), (105.0, 5.0, 105.0), (1.001, 0.0, 1.01)])
def test_prices_round_up(price: float, step: float, rounded: float) -> None:
    assert round_up(price, replace(FIRM, price_step=step)) == rounded


def test_chemical_by_the_litre_where_no_container_size_is_set() -> None:
    assert bought(np.array([1.2]), replace(FIRM, chemical_pack_l=0.0))[0] == 1.2
    assert bought(np.array([1.2, 2.0]), FIRM).tolist() == [2.0, 2.0]


def test_the_chance_is_never_quite_nil() -> None:
    assert chance_of_loss(np.arange(99.0), 1e9) == pytest.approx(0.01)


@pytest.mark.parametrize(("chance", "second_days"), [(0.0, 0), (0.3, 30), (0.999, 100), (1.0, 100)])
def test_the_forecast_share_of_scenarios_takes_a_second_day(chance: float, second_days: int) -> None:
    site = np.random.default_rng(2).gamma(9, 50, (1, 100))

    limit = day_length(site, np.array([chance]))

    assert (site > limit[:, None]).sum() == second_days
