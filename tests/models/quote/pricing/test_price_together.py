"""Kilograms and minutes of a hard house are high together: what that does to the price, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import spearmanr

from models.quote.answer import answer
from models.quote.base.quote_result import TARGETS
from models.quote.model.quote_model import QuoteModel
from models.quote.pricing.price import Work, prices
from models.quote.pricing.scenarios import joint_ranks, volume_ranks
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planted

# a minute costs 1, a dry kilogram 2 x 1 for disposal, nothing else costs anything
FIRM = Firm(
    hourly_rate=60.0,
    travel_minutes=0.0,
    preparation_minutes=0.0,
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
)
EVEN = np.arange(1.0, 100.0)


def _price(minutes: np.ndarray, kilograms: np.ndarray) -> float:
    one = np.ones(1)
    work = Work(
        minutes[None, :],
        kilograms[None, :],
        np.zeros((1, len(minutes))),
        one[:, None] * 100,
        one,
        one == 0,
        one == 0,
        one * 1e6,
    )
    return prices(work, FIRM)[0].price


def test_the_price_holds_how_minutes_and_kilograms_hang_together() -> None:
    # minutes 1 … 99, disposal 1 … 99. Together: cost 2i, the 90th is 180. Against each other: always 100.
    # Apart (every pair): the sum q of two even numbers is exceeded in (200 - q)^2 / 2 of 10,000 cases, 1,000 at 155
    minutes, kilograms = (grid.ravel() for grid in np.meshgrid(EVEN, EVEN / 2))

    assert _price(EVEN, EVEN / 2) == 180.0
    assert _price(EVEN, EVEN[::-1] / 2) == 100.0
    assert _price(minutes, kilograms) == pytest.approx(155.3, abs=1.0)


def test_planted_residuals_come_back_in_the_scenarios_and_independent_ones_do_not() -> None:
    rng = np.random.default_rng(6)
    # bivariate normal, correlation 0.6: both above their median in 1/4 + asin(0.6) / 2 pi = 0.352 of jobs (Sheppard
    # 1899, from memory); independent: 0.25
    for correlation, expected in ((0.6, 0.352), (0.0, 0.25)):
        draws = rng.standard_normal((4000, 4))
        draws[:, 3] = correlation * draws[:, 0] + np.sqrt(1 - correlation**2) * draws[:, 3]
        ranks = joint_ranks(draws)
        both = np.mean((ranks[:, 0] > 0.5) & (ranks[:, 3] > 0.5))

        assert both == pytest.approx(expected, abs=0.06)  # 400 scenarios: standard error 0.024


def test_a_quote_of_hard_houses_costs_more_in_the_tail_than_one_that_forgets_it(
    past: Planted, past_model: QuoteModel
) -> None:
    even = (np.arange(400) + 0.5) / 400
    rng = np.random.default_rng(3)
    together = np.column_stack([even] * len(TARGETS))
    apart = np.column_stack([rng.permutation(even) for _ in TARGETS])
    firm = replace(FIRM, disposal_cost_per_kg=40.0)

    costs = [
        answer(replace(past_model, ranks=ranks), past.features[-1:], past.volumes, firm)[0].price.cost
        for ranks in (apart, together)
    ]

    assert costs[1].p90 > 1.02 * costs[0].p90
    assert costs[1].p10 < 0.98 * costs[0].p10


def test_a_volume_less_surely_known_makes_the_cost_less_sure(past: Planted, past_model: QuoteModel) -> None:
    firm = replace(FIRM, cleaner_cost_per_l=200.0, cleaner_dose_l_per_100_l=1.0, chemical_pack_l=0.0)
    spread = []
    for share in (0.0, 0.4):
        volumes = past.volumes.assign(
            system_volume_low_l=past.volumes["system_volume_l"] * (1 - share),
            system_volume_high_l=past.volumes["system_volume_l"] * (1 + share),
        )
        cost = answer(past_model, past.features[-1:], volumes, firm)[0].price.cost
        spread.append(cost.p90 - cost.p10)

    assert spread[1] > spread[0]


def test_a_system_that_holds_more_than_its_survey_says_tends_to_give_more() -> None:
    magnetite = np.random.default_rng(4).permutation(np.arange(1, 401) / 401)

    ranks = volume_ranks(magnetite)

    assert np.sort(ranks) == pytest.approx(np.arange(1, 401) / 401)
    # Spearman's rho of a normal copula is 6/pi asin(r/2): 0.287 at 0.3; 400 draws, standard error 0.05
    assert spearmanr(magnetite, ranks).statistic == pytest.approx(0.287, abs=0.15)
