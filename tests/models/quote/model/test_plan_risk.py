"""How a plan moves the chance of a callback: planted worlds, sums by hand, refusals. No simulator."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from models.practice.results.curve_results import RiskPerKg
from models.quote.answer import answer
from models.quote.base.callback_cost import CallbackCost, CallbackRate
from models.quote.base.quote_result import Quote
from models.quote.model.callback_inputs import AuditedEffect, Returns, Usual
from models.quote.model.flush_ways import COLUMNS, usual_ways
from models.quote.model.predict import volumes_of
from models.quote.model.quote_model import QuoteModel
from models.quote.offers.options import options
from models.quote.offers.what_if import what_if
from models.quote.train import train_quote
from models.survey_features import POSITION, encode
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planted, plant

FIRM = Firm(price_step=0.0, target_margin_share=0.0, chemical_pack_l=0.0, label_max_days=14)
BY_MARGIN = replace(FIRM, target_margin_share=0.5)
"""A firm whose prices follow the mean cost: twice that."""
RATE = CallbackRate(2000, 240, 0.12, 0.10, 0.14)
PER_KG = RiskPerKg(-0.04, -0.06, -0.02, 365, 2000, 1.5, 40.0)
REFUSED = RiskPerKg(None, None, None, 365, 2000, 1.5, 4.0, "The ways of flushing moved the kilograms too little.")
FILTER = AuditedEffect(
    "filter_fitted:on_return|none",
    "filter_fitted",
    "on_return",
    "none",
    "Filter fitted on the return",
    -0.05,
    -0.08,
    -0.02,
)
WEEK = AuditedEffect(
    "predose_days:7|0", "predose_days", "7", "0", "Pre-dose of about a week", -0.03, -0.05, -0.01, 5.0, 10.0
)


@pytest.fixture(scope="module")
def gaining() -> Planted:
    """Jobs of which those with a pre-dose give 1.5 times the kilograms; every third has had one of a week."""
    drawn = plant(900, seed=14)
    dosed = np.arange(900) % 3 == 0
    features = drawn.features.assign(predose_days=np.where(dosed, 7.0, 0.0), filter_at_survey=False)
    kilos = drawn.outcomes["magnetite_kg"] * np.where(dosed, 1.5, 1.0)
    return Planted(features, drawn.outcomes.assign(magnetite_kg=kilos), drawn.volumes)


@pytest.fixture(scope="module")
def model(gaining: Planted) -> QuoteModel:
    return train_quote(gaining.features, gaining.outcomes)


def told(model: QuoteModel, gaining: Planted, per_kg: RiskPerKg = PER_KG, *shown: AuditedEffect) -> QuoteModel:
    shares = {each.contrast: 0.4 for each in shown}
    return replace(model, returns=Returns(Usual(RATE, usual_ways(encode(gaining.features)), shares), per_kg, shown))


def kilograms_of(quote: Quote) -> float:
    assert quote.price.callbacks is not None
    assert quote.price.callbacks.change is not None
    return quote.price.callbacks.change.kilograms


def counted(model: QuoteModel, gaining: Planted, job: int = 10, **plan: float | str | None) -> CallbackCost:
    row = gaining.features.iloc[[job]].assign(**plan)
    found = answer(model, row, gaining.volumes, FIRM)[0].price.callbacks
    assert found is not None
    return found


def test_a_planted_gain_moves_the_chance_by_the_risk_of_its_kilograms(model: QuoteModel, gaining: Planted) -> None:
    """Half as much again with a pre-dose, which a third of jobs have: a house that would give k without is usually
    at k (1 + 0.5 / 3), and at 1.5 k with one: k / 3 more, as without one k / 6 less."""
    wide = told(model, gaining, replace(PER_KG, usual_kg=20.0))
    some = gaining.features[::45].assign(heat_source=None, isolation=None)
    quotes = [answer(wide, some.assign(predose_days=days), gaining.volumes, FIRM) for days in (7.0, 0.0)]
    plans = np.array([[kilograms_of(quote) for quote in each] for each in quotes])
    chances = np.array([[quote.price.callbacks.chance for quote in each if quote.price.callbacks] for each in quotes])
    k = np.array([np.mean(quote.forecasts["magnetite_kg"].percentiles) for quote in quotes[1]])

    assert plans[0] == pytest.approx(-2 * plans[1], rel=0.03)  # the plan also widens the range a little
    # the forecast holds back a fifth of a planted step at most: it is learnt from 900 noisy jobs
    assert np.mean(plans[0] - plans[1]) == pytest.approx(np.mean(0.5 * k), rel=0.2)
    assert np.corrcoef(plans[0], k)[0, 1] > 0.9
    within = chances[1] < 1
    assert (chances[0] - chances[1])[within] == pytest.approx(-0.04 * (plans[0] - plans[1])[within])


def test_a_sum_by_hand_of_chance_cost_and_price(model: QuoteModel, gaining: Planted) -> None:
    plain = counted(told(model, gaining, REFUSED), gaining, predose_days=7.0)
    found = counted(told(model, gaining), gaining, predose_days=7.0)

    assert found.change is not None
    assert found.change.change == pytest.approx(-0.04 * found.change.kilograms)
    assert (found.change.low, found.change.high) == pytest.approx(
        (-0.06 * found.change.kilograms, -0.02 * found.change.kilograms)
    )
    assert found.chance == pytest.approx(0.12 + found.change.change)
    row = gaining.features.iloc[[10]].assign(predose_days=7.0)
    prices = [
        answer(told(model, gaining, each), row, gaining.volumes, BY_MARGIN)[0].price for each in (PER_KG, REFUSED)
    ]
    # a visit of 60 + 75 + 120 minutes at 32 an hour is 136, with a quarter of overhead 170; half of a price is margin
    assert {price.set_by for price in prices} == {"margin"}
    assert prices[0].price - prices[1].price == pytest.approx(2 * 170 * (found.chance - plain.chance), abs=0.02)


def test_where_the_slope_is_refused_the_plain_rate_stands_and_says_why(model: QuoteModel, gaining: Planted) -> None:
    found = counted(told(model, gaining, REFUSED), gaining, predose_days=7.0)

    assert (found.chance, found.change) == (0.12, None)
    assert found.why_plain == REFUSED.refused


def test_a_plan_that_says_nothing_of_its_ways_is_the_usual_one(model: QuoteModel, gaining: Planted) -> None:
    found = counted(told(model, gaining), gaining, predose_days=np.nan, heat_source=None, isolation=None)

    assert found.chance == 0.12


def test_jobs_flushed_as_they_were_have_the_rate_on_average(model: QuoteModel, gaining: Planted) -> None:
    """The book's own plans lie about its usual ways: what they move adds up to nearly nothing."""
    quotes = answer(told(model, gaining), gaining.features[:300], gaining.volumes, FIRM)

    chances = np.array([q.price.callbacks.chance for q in quotes if q.price.callbacks])
    assert chances.mean() == pytest.approx(0.12, abs=0.003)  # of moves that reach 0.06 either way
    assert chances.std() > 0.005


def test_an_offer_costs_the_same_whichever_was_asked(model: QuoteModel, gaining: Planted) -> None:
    with_all = told(model, gaining, PER_KG, FILTER)
    row = gaining.features.iloc[[10]].assign(predose_days=0.0)
    size = volumes_of(row, gaining.volumes, encode(row), FIRM)[0]

    asked = options(with_all, encode(row)[0], size, FIRM)
    other = options(with_all, encode(row.assign(predose_days=7.0, predose_label_ratio=1.0))[0], size, FIRM)

    assert {(o.new_filter, o.predose_days): o.price for o in asked} == pytest.approx(
        {(o.new_filter, o.predose_days): o.price for o in other}
    )
    assert asked[0].callback_change is not None
    assert asked[0].callback_change.change == 0.0


def test_a_verdict_of_the_audit_takes_the_place_of_the_kilograms(model: QuoteModel, gaining: Planted) -> None:
    """Four in ten dose: with a pre-dose 0.6 × −0.03 of the usual, without −0.4 × −0.03; no kilogram of it counts."""
    settled = told(model, gaining, PER_KG, WEEK)

    week, none, three = (
        counted(settled, gaining, predose_days=days, heat_source=None, isolation=None) for days in (7.0, 0.0, 3.0)
    )

    assert week.change is not None
    assert week.change.kilograms == 0.0
    assert week.chance == pytest.approx(0.12 - 0.018)
    assert (week.change.low, week.change.high) == pytest.approx((-0.03, -0.006))
    assert none.chance == pytest.approx(0.12 + 0.012)
    assert three.change is not None
    assert three.change.steps == ()  # three days: the verdict is on a week, so kilograms count
    assert three.change.kilograms != 0.0


def test_a_filter_with_a_verdict_is_worth_its_callbacks(model: QuoteModel, gaining: Planted) -> None:
    row = gaining.features.iloc[[10]].assign(predose_days=0.0)
    size = volumes_of(row, gaining.volumes, encode(row), FIRM)[0]

    fitted, declined, *_ = options(told(model, gaining, REFUSED, FILTER), encode(row)[0], size, BY_MARGIN)

    assert declined.callback_chance - fitted.callback_chance == pytest.approx(0.05)
    assert declined.callback_change is not None
    assert (declined.callback_change.low, declined.callback_change.high) == pytest.approx((0.02, 0.08))
    # 85 for the filter less 0.05 visits of 136, both with a quarter of overhead; half of a price is margin
    assert fitted.price - declined.price == pytest.approx(2 * 1.25 * (85 - 0.05 * 136), abs=0.021)


def test_other_plans_tell_the_same_change_as_their_quotes(model: QuoteModel, gaining: Planted) -> None:
    row = gaining.features.iloc[[10]].assign(predose_days=0.0)
    size = volumes_of(row, gaining.volumes, encode(row), FIRM)[0]

    week = next(c for c in what_if(told(model, gaining), encode(row)[0], size, FIRM) if c.instead == "7")

    pair = [
        counted(told(model, gaining), gaining, predose_days=d, predose_label_ratio=r)
        for d, r in ((7.0, 1.0), (0.0, np.nan))
    ]
    assert week.callback_change is not None
    assert week.callback_change.change == pytest.approx(pair[0].chance - pair[1].chance)


def test_usual_ways_keep_their_shares() -> None:
    x = encode(pd.DataFrame({"predose_days": [0.0] * 600 + [7.0] * 300 + [14.0] * 300}))

    days = usual_ways(x)[:, list(COLUMNS).index(POSITION["predose_days"])]

    assert [(days == d).sum() for d in (0.0, 7.0, 14.0)] == [24, 12, 12]


def test_no_plan_goes_beyond_none_or_all(model: QuoteModel, gaining: Planted) -> None:
    steep = replace(PER_KG, per_kg=-3.0, low=-4.0, high=-2.0)

    chances = {counted(told(model, gaining, steep), gaining, predose_days=days).chance for days in (0.0, 7.0)}

    assert chances <= {0.0, 1.0} or all(0 <= each <= 1 for each in chances)
    assert 0.0 in chances
