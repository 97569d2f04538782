"""Offers side by side, and doses over the range of the volume: sums by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from models.quote.answer import answer
from models.quote.model.doses import dose
from models.quote.model.predict import volumes_of
from models.quote.model.quote_model import QuoteModel
from models.quote.offers.options import Option, options
from models.quote.pricing.price import predose_visit_cost
from models.quote.train import train_quote
from models.survey_features import encode
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planted, Planter

FIRM = Firm(price_step=0.0, target_margin_share=0.0, chemical_pack_l=0.0, label_max_days=14)


@pytest.fixture(scope="module")
def model(past_model: QuoteModel) -> QuoteModel:
    return past_model


@pytest.fixture(scope="module")
def asked(past: Planted) -> pd.DataFrame:
    return past.features.iloc[[-1]].assign(filter_at_survey=False, predose_days=0.0, predose_label_ratio=np.nan)


def _of(model: QuoteModel, past: Planted, row: pd.DataFrame, firm: Firm = FIRM) -> tuple[Option, ...]:
    x = encode(row)
    return options(model, x[0], volumes_of(row, past.volumes, x, firm)[0], firm)


def test_four_offers_and_the_first_is_the_quote_itself(model: QuoteModel, past: Planted, asked: pd.DataFrame) -> None:
    found = _of(model, past, asked)
    quote = answer(model, asked, past.volumes, FIRM)[0]

    assert [(o.new_filter, o.predose_days) for o in found] == [(True, 0), (False, 0), (True, 7), (False, 7)]
    assert [o.is_asked for o in found] == [True, False, False, False]
    assert found[0].price == quote.price.price
    assert found[0].magnetite_kg == quote.forecasts["magnetite_kg"].quantiles
    assert all((o.callback_chance, o.callback_change) == (0.0, None) for o in found)


def test_a_filter_moves_the_price_by_its_cost_with_overhead_and_nothing_else(
    model: QuoteModel, past: Planted, asked: pd.DataFrame
) -> None:
    with_filter, without, *_ = _of(model, past, asked)

    # 85 for the filter, a quarter of overhead: 106.25
    assert with_filter.price - without.price == pytest.approx(106.25, abs=0.011)
    assert (with_filter.magnetite_kg, with_filter.site_minutes) == (without.magnetite_kg, without.site_minutes)


def test_the_visit_ahead_is_paid_for_and_past_jobs_tell_the_rest(
    model: QuoteModel, past: Planted, asked: pd.DataFrame
) -> None:
    dosed = next(o for o in _of(model, past, asked) if o.new_filter and o.predose_days)
    # a quote asked with the same pre-dose is the same offer
    quote = answer(model, asked.assign(predose_days=7.0, predose_label_ratio=1.0), past.volumes, FIRM)[0]
    parts = {part.name: part.amount for part in quote.price.parts}

    # one person, an hour of travel and half an hour there, at 32 an hour: 48
    assert predose_visit_cost(FIRM) == parts["Pre-dose visit"] == 48.0
    assert dosed.price == quote.price.price
    assert dosed.site_minutes == quote.forecasts["site_minutes"].quantiles
    assert dosed.forecast_moves


def test_a_young_book_prices_the_visit_and_says_that_it_cannot_tell_the_rest(
    planter: Planter, past: Planted, asked: pd.DataFrame
) -> None:
    few = planter(20)

    plain, dosed = (o for o in _of(train_quote(few.features, few.outcomes), past, asked) if o.new_filter)

    assert dosed.price - plain.price == pytest.approx(1.25 * 48, abs=0.011)
    assert (plain.forecast_moves, dosed.forecast_moves) == (True, False)
    assert dosed.magnetite_kg == plain.magnetite_kg


@pytest.mark.parametrize(("days", "offered"), [(3, [3, 3, 0, 0]), (0, [0, 0, 5, 5])])
def test_what_is_asked_comes_first_and_the_label_limits_the_rest(
    model: QuoteModel, past: Planted, asked: pd.DataFrame, days: int, offered: list[int]
) -> None:
    found = _of(model, past, asked.assign(predose_days=float(days)), replace(FIRM, label_max_days=5))

    assert [o.predose_days for o in found] == offered


def test_no_filter_where_one_is_there_and_no_predose_where_the_label_allows_none(
    model: QuoteModel, past: Planted, asked: pd.DataFrame
) -> None:
    (only,) = _of(model, past, asked.assign(filter_at_survey=True), replace(FIRM, label_max_days=0))

    assert (only.new_filter, only.predose_days, only.is_asked) == (False, 0, True)


def test_doses_follow_the_range_in_whole_containers() -> None:
    # 1.5 L for 100 L; 80, 120, 190 L of water: 1.2, 1.8, 2.85 L; containers of 0.5 L: 2 whole, 4 used, 6 to bring
    found = dose(1.5, (80.0, 120.0, 190.0), 0.5)

    assert (found.low_l, found.mid_l, found.high_l, found.first_l) == pytest.approx((1.2, 1.8, 2.85, 1.2))
    assert (found.whole_containers, found.containers_used, found.containers_to_bring) == (2, 4, 6)
    assert dose(1.5, (80.0, 120.0, 190.0), 0.0).containers_to_bring is None


def test_an_inhibitor_is_rounded_up_because_its_label_is_the_least() -> None:
    # 1.5 L for 100 L; 80, 120, 190 L of water: 1.2, 1.8, 2.85 L; containers of 0.5 L: 4 go in, 6 to bring
    found = dose(1.5, (80.0, 120.0, 190.0), 0.5, label_is="least")

    assert found.first_l == pytest.approx(1.8)
    assert (found.whole_containers, found.containers_used, found.containers_to_bring) == (4, 4, 6)
    assert dose(1.5, (80.0, 120.0, 190.0), 0.6, label_is="least").whole_containers == 3  # 3 x 0.6 L are just enough
    assert dose(1.5, (80.0, 120.0, 190.0), 0.0, label_is="least").first_l == pytest.approx(1.8)


def test_what_goes_in_unmeasured_is_within_the_label_for_every_volume_of_the_range() -> None:
    rng = np.random.default_rng(2)
    for _ in range(300):
        low, mid, high = np.sort(rng.uniform(20, 600, 3)).tolist()
        found = dose(rate := float(rng.uniform(0.2, 5)), (low, mid, high), pack := float(rng.choice([0.25, 1.0, 5.0])))

        assert found.whole_containers is not None
        assert found.whole_containers * pack <= found.low_l + 1e-6
        assert found.low_l / low * 100 <= rate + 1e-9
        assert found.containers_to_bring is not None
        assert found.containers_to_bring * pack >= found.high_l - 1e-6


def test_a_predose_over_the_label_is_named(model: QuoteModel, past: Planted, asked: pd.DataFrame) -> None:
    codes = [
        {f.code for f in answer(model, asked.assign(predose_label_ratio=r), past.volumes, FIRM)[0].findings}
        for r in (1.0, 1.5)
    ]

    assert ["predose_over_label_dose" in found for found in codes] == [False, True]
