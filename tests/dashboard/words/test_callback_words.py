"""Words for the callbacks that a price counts, and where they stand."""

from __future__ import annotations

from dashboard.app_parts.quote.option_parts import callbacks_sentence
from dashboard.app_parts.quote.what_if import measures, plan_rows
from dashboard.figures.what_if import what_if_alt, what_if_figure
from dashboard.words import callback_words
from models.quantiles import Quantiles
from models.quote.base.callback_cost import CallbackCost, CallbackRate, PlanChange
from models.quote.offers.options import Option
from models.quote.offers.what_if import WhatIf

RATE = CallbackRate(400, 40, 0.1, 0.075, 0.133)
FEWER = PlanChange(-0.016, -0.024, -0.008, 0.4)
SPREAD = Quantiles(1, 1.2, 1.6, 2.0, 2.5, 3.1, 3.6)


def test_expected_callbacks_are_told_with_their_interval_or_why_they_are_nought() -> None:
    told = callback_words.callbacks(CallbackCost(RATE, 180.0), "GBP")

    assert "10 % of 400 followed jobs (8 % to 13 %)" in told
    assert "a visit costs £180 before overhead" in told
    assert told.endswith("It is the rate of all jobs of the book, not of this house.")
    nought = callback_words.callbacks(CallbackCost(None, 180.0, "no rate"), "GBP")
    assert nought == "Expected callbacks are nought: no rate."


def test_what_the_plan_moves_is_told_with_its_reasons() -> None:
    by_kilograms = CallbackCost(RATE, 180.0, change=FEWER)
    steps = PlanChange(0.02, 0.01, 0.03, -0.4, (("filter_fitted:on_return|none", -0.4),))

    assert callback_words.plan(by_kilograms) == (
        "For this plan 8.4 in 100 are counted, 1.6 fewer (0.8 to 2.4 fewer): its way of flushing is expected to take "
        "out 0.40 kg more than the book's usual ways."
    )
    assert callback_words.plan(CallbackCost(RATE, 180.0, change=steps)) == (
        "For this plan 12.0 in 100 are counted, 2.0 more (1.0 to 3.0 more): its way of flushing is expected to take "
        "out 0.40 kg less than the book's usual ways and the practice audit has a verdict on filter fitted on the "
        "return."
    )


def test_a_refusal_and_whose_rate_it_is_stand_in_one_sentence_each() -> None:
    refused = CallbackCost(RATE, 180.0, why_plain="A kilogram cannot be told yet.")
    own = CallbackCost(CallbackRate(150, 20, 0.1, 0.075, 0.133, firm_id="north"), 180.0)
    pooled = CallbackCost(RATE, 180.0, why_not_own="of this firm's own, 12 followed jobs are too few")

    assert callback_words.plan(refused) == "The way of flushing does not move it. A kilogram cannot be told yet."
    assert "It is the rate of this firm's own jobs, not of this house." in callback_words.callbacks(own, "GBP")
    assert "all jobs of the book (of this firm's own, 12 followed jobs are too few)" in callback_words.callbacks(
        pooled, "GBP"
    )


def test_offers_tell_the_callbacks_they_count_only_where_they_differ() -> None:
    def offer(chance: float, change: PlanChange | None, *, asked: bool = False) -> Option:
        return Option(True, 0, asked, True, 500.0, 600.0, 0.1, 400.0, SPREAD, SPREAD, 0.02, chance, change)

    same = (offer(0.1, None, asked=True), offer(0.1, None))
    differ = (offer(0.1, PlanChange(0, 0, 0), asked=True), offer(0.084, FEWER))

    assert "All count the same callbacks" in callbacks_sentence(same)
    assert callbacks_sentence(differ).startswith(
        "Callbacks counted in 100 such jobs: 10.0 as asked; new filter, no pre-dose: 1.6 fewer (0.8 to 2.4 fewer)."
    )


def test_other_plans_show_what_callbacks_move_by_with_the_interval() -> None:
    plain = WhatIf("isolation", None, "groups", 33, 0.4, -5.0, -61.4, 0.012, -40.0)
    told = WhatIf("isolation", None, "groups", 33, 0.4, -5.0, -61.4, 0.012, -40.0, callback_change=FEWER)

    assert measures((plain,)) == ["price", "site_minutes", "magnetite_kg"]
    assert "callbacks" in measures((told, plain))
    assert plan_rows((told,), "EUR").iloc[0].tolist()[-3:] == [-1.6, -2.4, -0.8]
    assert "Flow: in groups −1.6 (−2.4 to −0.8)" in what_if_alt((told,), "callbacks", "EUR")
    drawn = what_if_figure((told,), "callbacks", "EUR")
    assert drawn.data[0].x.tolist() == [-1.6]
    assert list(drawn.data[1].x) == [-2.4, -0.8]  # the interval lies over its bar, its label beyond it
    assert (drawn.layout.annotations[0].text, drawn.layout.annotations[0].x) == ("−1.6", -2.4)
