"""Expected callbacks in the price: the rate by hand, when it is refused, and what it adds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from models.practice.effects.cost_effectiveness import callback_cost
from models.quote.answer import answer, as_json
from models.quote.base.callback_cost import CallbackRate, callback_rate, counted, visit_cost
from models.quote.base.quote_result import Price
from models.quote.model.callback_inputs import Returns, Usual
from models.quote.model.flush_ways import COLUMNS
from models.quote.model.quote_model import QuoteModel
from models.quote.train import train_quote
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planted

FIRM = Firm(
    hourly_rate=30.0,
    crew_size=2,
    travel_minutes=60.0,
    setup_minutes=40.0,
    callback_minutes=80.0,
    overhead_share=0.25,
    price_step=0.0,
    target_margin_share=0.0,
)
RATE = CallbackRate(400, 40, 0.1, 0.075, 0.133)
PLAIN = Returns(Usual(RATE, np.zeros((0, len(COLUMNS)))))


def _jobs(followed: list[float], debris: list[float]) -> pd.DataFrame:
    return pd.DataFrame({"followed_days": followed, "first_debris_day": debris})


def test_a_rate_by_hand_allows_for_jobs_not_followed_to_the_end() -> None:
    """200 jobs. 10 called back on day 50 of 200 at risk; then 90 end on day 100; 10 of the 100 left on day 200:
    1 - (190 / 200) (90 / 100) = 0.145; counting heads alone would say 20 / 200 = 0.1."""
    followed = [365.0] * 10 + [100.0] * 90 + [365.0] * 100
    debris = [50.0] * 10 + [np.nan] * 90 + [200.0] * 10 + [np.nan] * 90

    found = callback_rate(_jobs(followed, debris))

    assert (found.jobs, found.callbacks) == (200, 20)
    assert found.risk == pytest.approx(0.145)
    assert found.low is not None
    assert found.high is not None
    assert found.low < 0.145 < found.high


@pytest.mark.parametrize(("jobs", "callbacks", "followed"), [(99, 10, 365.0), (200, 4, 365.0), (200, 10, 300.0)])
def test_too_few_jobs_callbacks_or_days_are_refused(jobs: int, callbacks: int, followed: float) -> None:
    found = callback_rate(_jobs([followed] * jobs, [50.0] * callbacks + [np.nan] * (jobs - callbacks)))

    assert found.risk is None
    assert "are too few" in found.refused
    assert counted(found, FIRM).chance == 0.0


def test_one_visit_by_hand_and_the_audit_takes_the_same_with_overhead() -> None:
    """60 + 40 + 80 minutes are 3 h; two people at 30: 180; with a quarter of overhead 225."""
    assert visit_cost(FIRM) == 180.0
    assert callback_cost(FIRM) == 225.0


def test_the_price_holds_the_chance_times_the_cost_of_one_with_overhead(past: Planted) -> None:
    model = train_quote(past.features, past.outcomes)
    told = replace(model, returns=PLAIN)

    def price(of: QuoteModel, firm: Firm = FIRM) -> Price:
        return answer(of, past.features[-1:], past.volumes, firm)[0].price

    # 0.1 x 180 = 18, with overhead 22.5: every quantile of the cost moves by that; one job in ten loses 225 more
    assert price(told).cost.p50 - price(model).cost.p50 == pytest.approx(22.5)
    assert price(told).chance_of_loss <= FIRM.accepted_chance_of_loss
    assert 22.5 < price(told).price - price(model).price < 225
    parts = {part.name: part.amount for part in price(told).parts}
    assert parts["Expected callbacks"] == pytest.approx(18.0)
    assert price(told, replace(FIRM, count_callbacks=False)) == replace(
        price(model), callbacks=counted(RATE, replace(FIRM, count_callbacks=False))
    )
    kept = as_json(answer(told, past.features[-1:], past.volumes, FIRM)[0])["price"]["callbacks"]
    assert kept["rate"]["risk"] == 0.1
    untold = price(model).callbacks
    assert untold is not None
    assert "learnt without the book's callbacks" in untold.why_nought
