"""The edges of a price: far quantiles, prices beyond every scenario, ties, parts at the median, two requests at
once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.quote.pricing.price import (
    CURVE_POINTS,
    Work,
    bought,
    chance_of_loss,
    cost_parts,
    day_length,
    parts_at_median,
    prices,
    round_up,
)
from pipeline.contract.firm import Firm

# a minute costs 1, a dry kilogram 2 for disposal, nothing else costs anything
FIRM = Firm(
    hourly_rate=60.0,
    travel_minutes=0.0,
    preparation_minutes=0.0,
    predose_visit_minutes=0.0,
    second_day_cost=0.0,
    cleaner_cost_per_l=0.0,
    inhibitor_cost_per_l=0.0,
    filter_cost=0.0,
    water_cost_per_m3=0.0,
    disposal_cost_per_kg=1.0,
    wet_dry_ratio=2.0,
    disposal_cost_per_job=0.0,
    overhead_share=0.0,
    target_margin_share=0.0,
    accepted_chance_of_loss=0.1,
    price_step=0.0,
    lowest_price=0.0,
)


def work(minutes: list[list[float]], **more: np.ndarray) -> Work:
    site = np.array(minutes)
    n, nothing = len(site), np.zeros_like(site)
    usual = {
        "magnetite_kg": nothing,
        "non_magnetic_kg": nothing,
        "volume_l": np.full((n, 1), 100.0),
        "crew": np.ones(n),
        "filter_there": np.zeros(n, dtype=bool),
        "predosed": np.zeros(n, dtype=bool),
        "day_minutes": np.full(n, 1e6),
    }
    return Work(site_minutes=site, **(usual | more))


def test_quantiles_of_two_hundred_scenarios_by_hand() -> None:
    """Costs 1 … 200 in no order: rank 201·q, rounded outward from the median. 10.05 → 10, 20.1 → 20, 50.25 → 50,
    150.75 → 151, 180.9 → 181, 190.95 → 191; the middle is the 100th."""
    order = np.random.default_rng(1).permutation(np.arange(1.0, 201.0))

    cost = prices(work([order.tolist()]), FIRM)[0].cost

    assert list(cost.as_dict().values()) == [10.0, 20.0, 50.0, 100.0, 151.0, 181.0, 191.0]


def test_quantiles_of_nineteen_scenarios_are_whole_ranks_and_of_five_the_ends() -> None:
    """20·q is 1, 2, 5, 10, 15, 18, 19 exactly; 6·0.05 = 0.3 is below the first, 5.7 above the fifth."""
    nineteen, five = (prices(work([list(np.arange(1.0, n + 1))]), FIRM)[0].cost for n in (19, 5))

    assert list(nineteen.as_dict().values()) == [1, 2, 5, 10, 15, 18, 19]
    assert list(five.as_dict().values()) == [1, 1, 1, 3, 5, 5, 5]


def test_the_chance_of_loss_counts_the_costs_above_and_one_more() -> None:
    """Four scenarios, two of them tied: at 2 one lies above, (1 + 1) / 5; a tie is no loss; beyond the dearest 1 /
    5."""
    costs = np.array([1.0, 2.0, 2.0, 3.0])

    assert chance_of_loss(costs, np.array([0.5, 1.0, 1.999, 2.0, 2.001, 3.0, 99.0])) == pytest.approx(
        [1.0, 0.8, 0.8, 0.4, 0.4, 0.2, 0.2]
    )


def test_a_price_above_the_dearest_scenario_ends_its_curve_and_keeps_a_chance() -> None:
    """99 scenarios of 1 … 99 and a lowest price of 200: chance 1 / 100; the curve runs from 0.95 to 1.05 · 200."""
    price = prices(work([list(np.arange(1.0, 100.0))]), replace(FIRM, lowest_price=200.0))[0]

    assert (price.price, price.set_by, price.chance_of_loss) == (200.0, "lowest_price", pytest.approx(0.01))
    assert (price.curve[0].price, price.curve[0].chance_of_loss) == (pytest.approx(0.95), 1.0)
    assert (price.curve[-1].price, price.curve[-1].chance_of_loss) == (pytest.approx(210.0), pytest.approx(0.01))
    assert len(price.curve) == CURVE_POINTS == 41


def test_a_curve_ends_beyond_the_dearest_scenario_where_the_price_lies_below_it() -> None:
    price = prices(work([list(np.arange(1.0, 100.0))]), FIRM)[0]

    assert price.price == 90.0
    assert (price.curve[0].price, price.curve[-1].price) == pytest.approx((0.95, 99 * 1.05))


@pytest.mark.parametrize(
    ("scenarios", "accepted", "price"),
    [(9, 0.1, 9.0), (8, 0.1, 8.0), (99, 0.01, 99.0), (4, 0.4, 3.0), (199, 0.5, 100.0)],
)
def test_the_rank_that_keeps_the_accepted_chance(scenarios: int, accepted: float, price: float) -> None:
    """ceil((s + 1)·(1 − accepted)), the dearest where that is beyond: 9, 8.1 → 8, 99, 3, 100."""
    minutes = work([list(np.arange(1.0, scenarios + 1))])

    assert prices(minutes, replace(FIRM, accepted_chance_of_loss=accepted))[0].price == price


BY_REQUEST = {
    "crew": np.array([1.0, 3.0]),
    "filter_there": np.array([True, False]),
    "predosed": np.array([False, True]),
    "day_minutes": np.array([300.0, 600.0]),
    "callback_chance": np.array([0.1, 0.4]),
}


def test_two_requests_at_once_are_priced_as_each_alone() -> None:
    """Two of everything that is by request: crew, filter, pre-dose, day, callbacks."""
    costs = {"travel_minutes": 10.0, "predose_visit_minutes": 20.0, "filter_cost": 90.0, "second_day_cost": 50.0}
    firm = replace(FIRM, **costs, callback_minutes=30.0, overhead_share=0.1)
    rng = np.random.default_rng(2)
    both = work(rng.uniform(100, 900, (2, 60)).tolist(), **BY_REQUEST, magnetite_kg=rng.uniform(0, 9, (2, 60)))
    names = ("site_minutes", "magnetite_kg", "non_magnetic_kg", "volume_l", *BY_REQUEST)

    alone = [prices(Work(**{name: getattr(both, name)[at : at + 1] for name in names}), firm)[0] for at in (0, 1)]

    assert prices(both, firm) == alone
    assert alone[0].price != alone[1].price


def test_days_beyond_the_first_by_hand() -> None:
    """A day of 480: 480 is one day, 481 two, 961 three; each further one 50, each day a journey of 10 at 2 a minute."""
    firm = replace(FIRM, travel_minutes=10.0, second_day_cost=50.0)
    parts = cost_parts(work([[480.0, 481.0, 961.0, 0.0]], crew=np.array([2.0]), day_minutes=np.array([480.0])), firm)[0]

    assert parts[:, 3].tolist() == [0.0, 50.0, 100.0, 0.0]
    assert parts[:, 1].tolist() == [20.0, 40.0, 60.0, 20.0]


def test_a_day_lies_midway_between_the_last_of_one_and_the_first_of_two() -> None:
    """Of 100, 200, 300, 400 minutes half take two days: 250. None: midway between 400 and its double; all: half of 100
    and 100."""
    site = np.array([[400.0, 100.0, 300.0, 200.0]] * 3)

    assert day_length(site, np.array([0.5, 0.0, 1.0])) == pytest.approx([250.0, 600.0, 75.0])


def test_containers_and_steps_that_fit_exactly_are_not_rounded_up() -> None:
    """0.1 + 0.2 is a little more than 0.3 in floating point: three packs of 0.1 L, not four; 1.1 · 3 / 1.1 likewise."""
    assert bought(np.array([0.1 + 0.2]), replace(FIRM, chemical_pack_l=0.1)) == pytest.approx([0.3])
    assert bought(np.array([0.0, 2.1, 2.5]), replace(FIRM, chemical_pack_l=2.5)).tolist() == [0.0, 2.5, 2.5]
    assert round_up(1.1 * 3, replace(FIRM, price_step=1.1)) == pytest.approx(3.3)
    assert round_up(3.301, replace(FIRM, price_step=1.1)) == pytest.approx(4.4)
    assert (round_up(0.0, FIRM), round_up(7.0, replace(FIRM, price_step=5.0))) == (0.0, 10.0)


def test_parts_where_the_cost_is_the_median_by_hand() -> None:
    """21 scenarios, two on each side of the 11th. Costs there 8, 9, 10, 11, 17: mean 11, away −3, −2, −1, 0, 6, squares
    50. At the median −1 the first part, 1, 2, 3, 4, 10 (it moves as the cost does: slope 1), is 3; the second always
    7."""
    first = np.array([*range(-20, -12), 1.0, 2.0, 3.0, 4.0, 10.0, *range(20, 28)])
    parts = np.column_stack([first, np.full(21, 7.0)])[None]
    order = np.argsort(parts.sum(axis=2), axis=1)

    assert parts_at_median(parts, order, 10) == pytest.approx(np.array([[3.0, 7.0]]))


def test_parts_that_move_against_each_other_are_read_off_a_line_through_the_scenarios_near_by() -> None:
    """Costs 1, 2, 3 in the middle of 11 (one on each side), first part 5, 0, 4, mean 3. The median cost is their
    mean, so that every line through them has 3 there (not the middle one's 0); the second part takes up the rest,
    −1."""
    first = np.zeros(11)
    cost = np.array([-9.0, -8, -7, -6, 1, 2, 3, 6, 7, 8, 9])
    first[4:7] = [5.0, 0.0, 4.0]
    parts = np.column_stack([first, cost - first])[None]

    assert parts_at_median(parts, np.arange(11)[None], 5) == pytest.approx(np.array([[3.0, -1.0]]))


def test_scenarios_that_all_cost_the_same_share_their_parts_evenly() -> None:
    """No slope to be had: the plain mean of the parts near the median, 1 of 0, 1, 2."""
    first = np.arange(11.0)
    first[4:7] = [0.0, 1.0, 2.0]
    parts = np.column_stack([first, 10 - first])[None]

    assert parts_at_median(parts, np.arange(11)[None], 5) == pytest.approx(np.array([[1.0, 9.0]]))
