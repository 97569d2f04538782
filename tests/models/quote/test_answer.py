"""Answers to requests: the documented shape, thin books, missing answers, many at once."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pandas as pd
import polars as pl
import pytest

from models.quantiles import LEVELS
from models.quote.answer import answer, as_json
from models.quote.base.quote_result import TARGETS
from models.quote.model.quote_model import QuoteModel
from models.quote.train import train_quote
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planted, Planter

SHAPE = ["firm_id", "job_id", *TARGETS, "second_day", "price", "volume", "why", "similar_jobs", "basis", "findings"]


@pytest.fixture(scope="module")
def model(past_model: QuoteModel) -> QuoteModel:
    return past_model


@pytest.fixture(scope="module")
def requests(planter: Planter) -> Planted:
    return planter(40, seed=9)


def test_the_answer_has_the_documented_shape(model: QuoteModel, requests: Planted) -> None:
    quotes = answer(model, requests.features, requests.volumes, Firm())

    assert [q.job_id for q in quotes] == requests.features["job_id"].tolist()
    plain = json.loads(json.dumps(as_json(quotes[0]), allow_nan=False))
    assert list(plain) == SHAPE
    assert list(plain["magnetite_kg"]) == list(LEVELS)
    assert 0 <= plain["second_day"] <= 1
    assert len(plain["similar_jobs"]) == 5
    assert plain["basis"]["method"] == "boosted"
    assert plain["basis"]["window_to"] > plain["basis"]["window_from"]
    assert len(quotes[0].forecasts["site_minutes"].percentiles) == 99


def test_quantiles_never_cross_and_reasons_sum_to_the_median(model: QuoteModel, requests: Planted) -> None:
    for quote in answer(model, requests.features, requests.volumes, Firm()):
        for forecast in quote.forecasts.values():
            assert list(forecast.percentiles) == sorted(forecast.percentiles)
        for why in quote.why:
            assert why.usual + sum(r.amount for r in why.reasons) == pytest.approx(why.median, abs=1e-8)
            assert why.median == quote.forecasts[why.target].quantiles.p50


def test_many_at_once_are_answered_as_one_by_one(model: QuoteModel, requests: Planted) -> None:
    together = answer(model, requests.features, requests.volumes, Firm())
    row = slice(17, 18)
    alone = answer(model, requests.features[row], requests.volumes, Firm())[0]

    assert as_json(together[17])["price"] == as_json(alone)["price"]
    assert alone.similar_jobs[0].job_id == together[17].similar_jobs[0].job_id
    assert alone.why[0].median == together[17].why[0].median


def test_a_survey_with_next_to_nothing_known_is_still_answered(model: QuoteModel) -> None:
    bare = pd.DataFrame({"firm_id": ["own"], "job_id": ["R1"], "system_type": ["sealed"]})
    none = pd.DataFrame(
        columns=[
            "firm_id",
            "job_id",
            "system_volume_low_l",
            "system_volume_l",
            "system_volume_high_l",
            "system_volume_method",
        ]
    )

    quote = answer(model, bare, none, Firm())[0]

    assert quote.volume.method == "typical_system"
    assert quote.volume.low_l < quote.volume.mid_l == 100.0 < quote.volume.high_l
    assert quote.forecasts["magnetite_kg"].quantiles.p05 < quote.forecasts["magnetite_kg"].quantiles.p95
    json.dumps(as_json(quote), allow_nan=False)


def test_no_request_has_no_answer(model: QuoteModel, requests: Planted) -> None:
    assert answer(model, requests.features[:0], requests.volumes, Firm()) == []


def _codes(planter: Callable, jobs: int, firm_id: str = "own") -> tuple[str, set[str], list]:  # type: ignore[type-arg]
    book, request = planter(max(jobs, 1), firm_id=firm_id), planter(1, seed=3)
    model = train_quote(book.features[:jobs], book.outcomes[:jobs])
    quote = answer(model, request.features, request.volumes, Firm())[0]
    json.dumps(as_json(quote), allow_nan=False)
    q = quote.forecasts["magnetite_kg"].quantiles
    return quote.basis.method, {f.code for f in quote.findings}, [q.p95 / max(q.p05, 1e-3), quote]


def test_an_empty_book_answers_by_common_practice_and_says_so(planter: Planter) -> None:
    method, codes, (ratio, quote) = _codes(planter, 0)

    assert method == "typical_rule"
    assert {"no_own_jobs"} <= codes
    assert ratio > 10
    assert quote.similar_jobs == ()
    flush, site = (quote.forecasts[t].quantiles.p50 for t in ("flush_minutes", "site_minutes"))
    assert site == pytest.approx(flush + Firm().setup_minutes)


@pytest.mark.parametrize("jobs", [1, 5, 25, 39])
def test_a_young_book_answers_per_emitter_with_a_wide_interval(planter: Planter, jobs: int) -> None:
    method, codes, (ratio, quote) = _codes(planter, jobs)

    assert method == "per_emitter_rule"
    assert "few_jobs" in codes
    assert ratio > 4
    sentence = next(f.sentence for f in quote.findings if f.code == "few_jobs")
    assert sentence.startswith(f"Only {jobs} finished job")


def test_forty_jobs_are_boosted_without_such_a_remark(planter: Planter) -> None:
    method, codes, _ = _codes(planter, 40)

    assert method == "boosted"
    assert not codes & {"few_jobs", "no_own_jobs"}


@pytest.mark.parametrize("jobs", [5, 60])
def test_a_simulated_book_says_so_on_every_quote(planter: Planter, jobs: int) -> None:
    assert "simulated_only" in _codes(planter, jobs, "sim-north")[1]
    assert "simulated_only" not in _codes(planter, jobs, "own")[1]


def test_a_request_unlike_the_records_and_a_dose_beyond_the_label_are_said(
    model: QuoteModel, requests: Planted
) -> None:
    odd = requests.features[:1].assign(age_years=96.0, predose_days=21.0)

    quote = answer(model, odd, requests.volumes, Firm(label_max_days=14))[0]

    assert any(said.startswith("age 96 years: the oldest in the records is") for said in quote.basis.outside)
    assert {"outside_records", "predose_beyond_label"} <= {f.code for f in quote.findings}


def test_the_second_day_is_as_likely_as_it_turns_out(model: QuoteModel, planter: Planter) -> None:
    new = planter(2000, seed=77)
    quotes = answer(model, new.features, new.volumes, Firm(day_minutes=300))
    chance = np.array([quote.second_day for quote in quotes])

    happened = new.outcomes["is_second_day"].to_numpy()
    assert chance.mean() == pytest.approx(happened.mean(), abs=0.03)
    for low, high in ((0.0, 0.1), (0.1, 0.4), (0.4, 0.7), (0.7, 1.0)):
        some = (chance >= low) & (chance < high)
        # 0.05 for calibration on 300 jobs, and three standard errors of the jobs in the bin
        allowed = 0.05 + 3 * np.sqrt(0.25 / some.sum())
        assert happened[some].mean() == pytest.approx(chance[some].mean(), abs=allowed)
    assert "day_length_differs" in {f.code for f in quotes[0].findings}


def test_the_firms_day_counts_while_no_second_day_is_on_record(past: Planted, requests: Planted) -> None:
    model = train_quote(past.features, past.outcomes.assign(is_second_day=None))

    short, long = (answer(model, requests.features[:1], requests.volumes, Firm(day_minutes=d))[0] for d in (100, 1400))

    assert short.second_day > 0.98
    assert long.second_day < 0.02
    assert {p.name: p.amount for p in short.price.parts}["Second day"] > 0


def test_a_price_covers_its_cost_as_often_as_promised(model: QuoteModel, planter: Planter) -> None:
    firm = Firm(target_margin_share=0.0, price_step=0.0, hourly_rate=60.0)
    new = planter(1500, seed=78)
    quotes = answer(model, new.features, new.volumes, firm)
    days = 1 + new.outcomes["is_second_day"]
    labour = (
        new.features["crew_size"]
        * 60.0
        / 60
        * (new.outcomes["site_minutes"] + firm.travel_minutes * days + firm.preparation_minutes)
    )
    debris = (new.outcomes["magnetite_kg"] + new.outcomes["non_magnetic_kg"]) * firm.wet_dry_ratio
    used = ("Pre-dose visit", "Cleaning chemical", "Inhibitor", "Magnetic filter", "Water")
    fixed = np.array([sum(p.amount for p in q.price.parts if p.name in used) for q in quotes])
    direct = labour + (days - 1) * firm.second_day_cost + debris * firm.disposal_cost_per_kg + fixed
    cost = (direct + firm.disposal_cost_per_job) * (1 + firm.overhead_share)

    lost = np.mean(cost.to_numpy() > [q.price.price for q in quotes])

    assert lost == pytest.approx(0.10, abs=0.025)  # sd of 1,000 scores 0.010, and of 1,500 jobs 0.008


def test_a_job_with_two_volumes_has_no_answer(model: QuoteModel, requests: Planted) -> None:
    twice = pd.concat([requests.volumes, requests.volumes[:1]])

    with pytest.raises(ValueError, match="more than one volume"):
        answer(model, requests.features, twice, Firm())


def test_rows_as_asked_are_answered_as_rows_learnt_from(model: QuoteModel, requests: Planted) -> None:
    some, volumes = requests.features[:5], requests.volumes[::-1]  # by job, in whatever order
    asked = answer(model, pl.from_pandas(some), pl.from_pandas(volumes), Firm())

    assert [as_json(quote) for quote in asked] == [as_json(quote) for quote in answer(model, some, volumes, Firm())]
