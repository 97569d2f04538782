"""A job is called back or not: the chance of loss that a price states is the chance that comes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.quote.base.callback_cost import visit_cost
from models.quote.pricing.price import Gamble, Work, prices
from pipeline.contract.firm import Firm

FIRM = Firm(
    accepted_chance_of_loss=0.05,
    target_margin_share=0.0,
    lowest_price=0.0,
    price_step=0.0,
    overhead_share=0.25,
    hourly_rate=30.0,
    crew_size=2,
    travel_minutes=60.0,
    setup_minutes=40.0,
    callback_minutes=80.0,
)
EACH = 225.0
"""60 + 40 + 80 minutes of two people at 30 an hour, with a quarter of overhead."""


def work(chance: float | None) -> Work:
    """399 scenarios of one job, labour log-normal about 300 minutes."""
    from scipy.stats import norm

    minutes = np.exp(np.log(300) + 0.15 * norm.ppf(np.arange(1, 400) / 400))[None, :]
    one, nothing = np.ones(1), np.zeros((1, 399))
    chances = None if chance is None else np.array([chance])
    false = np.zeros(1, dtype=bool)
    return Work(minutes, nothing, nothing, 0 * one[:, None], 2 * one, ~false, false, 1e6 * one, chances)


def lost(price: float, chance: float) -> float:
    """Share of 400,000 jobs that lose: a scenario drawn, and a return visit or none."""
    rng = np.random.default_rng(1)
    alone = prices(work(None), FIRM)[0]
    minutes = 300 * np.exp(0.15 * rng.standard_normal(400_000))
    fixed = alone.cost.p50 - 300 * 1.25
    return float(np.mean(fixed + minutes * 1.25 + EACH * (rng.random(400_000) < chance) > price))


def test_the_visit_costs_what_it_costs_by_hand() -> None:
    assert visit_cost(FIRM) * 1.25 == EACH == Gamble(0.1, FIRM).each
    assert Gamble(0.1, FIRM).mean == pytest.approx(22.5)


@pytest.mark.parametrize("chance", [0.0, 0.03, 0.06, 0.2])
def test_a_stated_chance_of_loss_is_the_chance_that_comes(chance: float) -> None:
    found = prices(work(chance), FIRM)[0]

    # 1 in 400 for the scenarios' steps, and three standard errors of 400,000 draws
    assert found.chance_of_loss == pytest.approx(0.05, abs=1 / 400)
    assert lost(found.price, chance) == pytest.approx(found.chance_of_loss, abs=1 / 400 + 0.001)
    for point in found.curve[::8]:
        assert lost(point.price, chance) == pytest.approx(point.chance_of_loss, abs=1 / 400 + 0.0025)


def test_at_its_mean_in_every_scenario_the_visit_would_hide_losses() -> None:
    """What the price was before: the 5 % dearest scenario, and 0.06 of a visit."""
    before = prices(work(None), FIRM)[0].price + 0.06 * EACH

    assert lost(before, 0.06) > 0.065
    assert prices(work(0.06), FIRM)[0].price > before + 50


def test_costs_and_margin_hold_return_visits_at_their_mean() -> None:
    wanting = replace(FIRM, target_margin_share=0.4)
    alone, told = (prices(work(chance), wanting)[0] for chance in (None, 0.06))

    assert told.cost.p50 - alone.cost.p50 == pytest.approx(0.06 * EACH)
    assert (alone.set_by, told.set_by) == ("margin", "margin")
    assert told.price - alone.price == pytest.approx(0.06 * EACH / 0.6, abs=0.011)
    assert sum(part.amount for part in told.parts) == pytest.approx(told.cost.p50)


def test_with_two_scenarios_by_hand() -> None:
    """Costs 100 and 200 without, a visit of 225 for half of the jobs; S is 1, 2/3, 1/3 below, between and above."""
    gamble, ordered = Gamble(0.5, FIRM), np.array([100.0, 200.0]) + 112.5

    assert gamble.loss(ordered, np.array([99.0, 150.0, 250.0, 330.0, 425.0])) == pytest.approx(
        [1.0, (2 / 3 + 1) / 2, (1 / 3 + 1) / 2, (1 / 3 + 2 / 3) / 2, 1 / 3]
    )
    assert gamble.lowest_price(ordered, 0.5) == 325.0
    assert gamble.lowest_price(ordered, 0.1) == 425.0  # no price keeps it: the dearest
