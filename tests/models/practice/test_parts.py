"""Parts of the audit by hand and by planted values: power, worth, funnel, pool, dose, risk per kilogram."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.practice.cohort.audited_jobs import PracticeFrames, Records, gather
from models.practice.cohort.contrasts import BY_NAME, CONTRASTS
from models.practice.effects.change_by_kg import change_in_risk, within_usual
from models.practice.effects.cost_effectiveness import callback_cost, counted, material_cost, worth
from models.practice.effects.doubly_robust import adjust, compare
from models.practice.effects.effect import judge, practice_effect
from models.practice.effects.risk_per_kg import risk_per_kg, two_stage
from models.practice.effects.shrinkage import shrunk
from models.practice.effects.verdicts import detectable, is_no_difference, needed, round_up, threshold, two_sided
from models.practice.engineers.casemix import expected_callbacks
from models.practice.engineers.funnel import funnel, shrink
from models.practice.pool.pooled_effects import pooled_effect
from models.practice.results.audit_result import Audit, PracticeEffect, Worth
from models.practice.results.curve_results import RiskPerKg
from models.quote.model.callback_inputs import verdicts
from pipeline.contract.firm import Firm
from tests.benchmarks.studies.practice_world import World, draw_world

FILTER = "filter_fitted:on_return|none"
ONE = "isolation:one_at_a_time|all_open"


def test_jobs_needed_follow_the_root_of_the_number_by_hand() -> None:
    """Error 0.01 with 1000 jobs: 1.959964 + 0.841621 of it, 0.0280, is detectable at 5 %: (2.80 / 2)² − 1 = 0.962 times
    as many more show 0.02. At the 1 % of a stricter threshold 2.575829 + 0.841621: (3.417 / 2)² − 1 = 1.920 times."""
    assert needed(1000, 0.01, 0.02, 0.05) == 970
    assert needed(1000, 0.01, 0.02, 0.01) == 2000
    assert detectable(0.01, 0.01) == pytest.approx(0.0341745, abs=1e-7)


def test_where_a_worthwhile_difference_would_have_been_seen_it_is_said_what_settles_it() -> None:
    """Error 0.007: 0.0196 is detectable, 0.02 would have been seen. An estimate of −0.0125 comes clear of none at an
    error of 0.0125 / 1.96 = 0.006378, (0.007 / 0.006378)² − 1 = 0.2047; one of 0.009 of 0.02 at 0.011 / 1.96."""
    assert needed(1000, 0.007, 0.02, 0.05, -0.0125) == 210
    assert needed(1000, 0.007, 0.02, 0.05, 0.009) == 560
    assert needed(1000, 0.007, 0.02, 0.05) is None


def test_the_threshold_of_one_more_verdict_is_the_next_place_of_benjamini_and_hochberg() -> None:
    assert [threshold(0, 17), threshold(2, 10), threshold(10, 10)] == pytest.approx([0.05 / 17, 0.015, 0.05])


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(-0.0199, 0.0199, True), (-0.02, 0.01, False), (-0.01, 0.02, False), (0.001, 0.03, False), (None, 0.01, False)],
)
def test_no_difference_worth_knowing_leaves_out_the_target_on_both_sides(
    low: float | None, high: float | None, said: bool
) -> None:
    assert is_no_difference(low, high, 0.02) is said


def effect_of(difference: float, error: float, p: float, made: PracticeEffect) -> PracticeEffect:
    """An effect of 1000 jobs at a risk of 8 % without."""
    ends = difference - 1.96 * error, difference + 1.96 * error
    told = {"difference": difference, "low": ends[0], "high": ends[1], "standard_error": error, "p_value": p}
    return replace(made, jobs=1000, risk_without=0.08, risk_with=0.08 + difference, worth=None, **told)


def test_verdicts_and_jobs_needed_use_one_threshold(audited: Audit) -> None:
    """Three tested: one clear, so that the next needs p ≤ 2/3 of 5 %: z 2.128045; another is within ±0.02 for sure."""
    made = audited.practice(FILTER)
    clear, open_, level = judge(
        [effect_of(-0.05, 0.01, 6e-7, made), effect_of(-0.015, 0.01, 0.13, made), effect_of(0.001, 0.008, 0.9, made)],
        0.1,
    )

    assert [each.verdict for each in (clear, open_, level)] == [
        "cuts callbacks",
        "cannot be told yet",
        "no difference worth knowing",
    ]
    assert [clear.jobs_needed, level.jobs_needed] == [None, None]
    assert open_.detectable_difference == pytest.approx(0.01 * (2.128045 + 0.841621), rel=1e-5)
    assert open_.jobs_needed == 1300  # (2.9697 / 2)² − 1 = 1.2048 times 1000
    assert level.verdict_words == "no difference worth knowing"


def test_what_is_picked_as_clearest_is_shrunk_to_what_is_true_of_it_on_average() -> None:
    """2,000 audits of ten practices, true spread 1, errors 1: the largest estimate is too large by some 0.8, since half
    of its square is luck; shrunk it is right on average, and its 95 % range holds the truth in 95 %."""
    rng = np.random.default_rng(1)
    truth = rng.standard_normal((2000, 10))
    seen = truth + rng.standard_normal((2000, 10))
    at = np.abs(seen).argmax(axis=1)
    rows, sign = np.arange(2000), np.sign(seen[np.arange(2000), np.abs(seen).argmax(axis=1)])
    means, spreads = (np.array(each) for each in zip(*(shrunk(one, np.ones(10)) for one in seen), strict=True))

    off = sign * (means[rows, at] - truth[rows, at])
    assert (sign * (seen[rows, at] - truth[rows, at])).mean() > 0.6
    assert abs(off.mean()) < 0.1
    assert np.mean(np.abs(off) < 1.96 * spreads[rows, at]) == pytest.approx(0.95, abs=0.02)


def test_effects_far_beyond_their_errors_are_left_as_they_are_and_units_do_not_matter() -> None:
    clear, errors = np.array([-5.0, 4.0, 6.0, -3.0]), np.full(4, 0.05)

    assert shrunk(clear, errors)[0] == pytest.approx(clear, rel=1e-3)
    assert shrunk(clear, errors)[1] == pytest.approx(errors, rel=0.01)
    for small, large in zip(shrunk(clear, np.full(4, 3.0)), shrunk(clear * 10, np.full(4, 30.0)), strict=True):
        assert large == pytest.approx(small * 10)
    assert shrunk(np.zeros(0), np.zeros(0))[0].size == 0


@pytest.mark.parametrize(("number", "told"), [(3.2, 4), (0.0, 1), (961.3, 970), (12_345, 13_000)])
def test_numbers_of_jobs_are_rounded_up_to_two_figures(number: float, told: int) -> None:
    assert round_up(number) == told


def test_p_of_1_96_errors_is_5_percent() -> None:
    assert two_sided(-1.959964, 1.0) == pytest.approx(0.05, abs=1e-6)


def test_worth_of_a_filter_by_hand(records: Records) -> None:
    """A filter of 10 with a quarter of overhead is 12.50; return visits are counted with theirs."""
    firm = Firm(filter_cost=10.0, overhead_share=0.25)
    adjusted = adjust(records, compare(records, BY_NAME[FILTER]))

    found = worth(records, adjusted, firm)

    assert found is not None
    assert adjusted.estimate is not None
    avoided = -adjusted.estimate.difference
    assert found.avoided_per_100 == pytest.approx(100 * avoided)
    assert found.cost_per_avoided == pytest.approx(12.5 / avoided)
    assert found.net_per_job == pytest.approx(avoided * callback_cost(firm) - 12.5)
    assert found.net_low < found.net_per_job < found.net_high
    assert found.basis.endswith(", 25 % overhead")


def test_a_price_for_each_callback_avoided_follows_the_verdict_not_the_interval(records: Records) -> None:
    """Clear by its interval (p = 0.04), of 17 looked at no verdict: 0.04 × 17 is far above 0.05."""
    effect, adjusted = practice_effect(records, BY_NAME[FILTER])
    priced = replace(effect, worth=worth(records, adjusted, Firm()))
    lucky = replace(priced, p_value=0.04)

    judged = judge([lucky, *[replace(effect, p_value=0.9)] * 16], 0.1)[0]
    alone = judge([lucky], 0.1)[0]

    assert (judged.verdict, alone.verdict) == ("cannot be told yet", "cuts callbacks")
    assert judged.worth is not None
    assert alone.worth is not None
    assert judged.worth.cost_per_avoided is None
    assert alone.shrunk_difference is not None
    assert alone.worth.cost_per_avoided == pytest.approx(alone.worth.cost_per_job / -alone.shrunk_difference)


def test_money_counts_the_effects_that_prices_count(records: Records) -> None:
    """One answer: what `train` hands to the quote is what the page's worth says."""
    pairs = [practice_effect(records, contrast) for contrast in CONTRASTS]
    judged = judge([replace(each, worth=worth(records, of, Firm())) for each, of in pairs], 0.1)
    told = {each.contrast: each for each in verdicts(records)}

    assert told
    for each in judged:
        if each.contrast in told and each.worth is not None:
            price = told[each.contrast]
            assert each.worth.avoided_per_100 == pytest.approx(-100 * price.difference)
            assert (each.worth.avoided_low, each.worth.avoided_high) == pytest.approx(
                (-100 * price.high, -100 * price.low)
            )
            assert each.difference is not None
            assert 0 < each.worth.avoided_per_100 / (-100 * each.difference) < 1


def test_worth_by_a_shrunk_effect_by_hand() -> None:
    """A callback costs 100, a job with it 2; 5 avoided in 100 become 3 with a standard deviation of 0.01: the net is
    3 − 2 = 1. Its half was 5, of which the effect's was 3 (100 · 0.03): 4 is of minutes and stays, beside 1.96."""
    found = counted(Worth(5.0, 2.0, 8.0, 2.0, 100.0, 40.0, 3.0, -2.0, 8.0, "GBP", "one filter"), -0.03, 0.01)

    half = (4.0**2 + 1.959964**2) ** 0.5
    assert (found.avoided_per_100, found.cost_per_avoided, found.net_per_job) == pytest.approx((3.0, 2 / 0.03, 1.0))
    assert (found.net_low, found.net_high) == pytest.approx((1.0 - half, 1.0 + half), rel=1e-6)
    assert (found.avoided_low, found.avoided_high) == pytest.approx((3.0 - 1.959964, 3.0 + 1.959964), rel=1e-6)


def test_minutes_that_a_practice_adds_are_found_and_paid(records: Records) -> None:
    """Planted: 45 minutes more with one emitter at a time; 0.75 h × 40 = 30 of the currency, no overhead."""
    firm = Firm(hourly_rate=40.0, overhead_share=0.0)
    found = worth(records, adjust(records, compare(records, BY_NAME[ONE])), firm)

    assert found is not None
    assert found.cost_per_job == pytest.approx(30.0, abs=5.0)
    assert "minutes on site" in found.basis


def test_overhead_lies_on_the_practice_and_on_the_callback_alike(records: Records) -> None:
    """Every amount of money is 1.25 times as much with a quarter of overhead; callbacks avoided are the same."""
    firm = Firm(hourly_rate=40.0)
    for name in (FILTER, ONE, "predose_days:7|0"):
        adjusted = adjust(records, compare(records, BY_NAME[name]))
        bare = worth(records, adjusted, replace(firm, overhead_share=0.0))
        loaded = worth(records, adjusted, replace(firm, overhead_share=0.25))

        assert bare is not None
        assert loaded is not None
        assert loaded.avoided_per_100 == bare.avoided_per_100
        assert loaded.basis == f"{bare.basis}, 25 % overhead"
        for amount in ("cost_per_job", "cost_per_callback", "net_per_job", "net_low", "net_high"):
            assert getattr(loaded, amount) == pytest.approx(1.25 * getattr(bare, amount)), amount


def test_chemical_is_bought_by_the_container() -> None:
    """130 L at 1 L per 100 L: 1.3 L, so two containers of one litre at 18."""
    firm = Firm(inhibitor_dose_l_per_100_l=1.0, inhibitor_cost_per_l=18.0, chemical_pack_l=1.0)

    assert material_cost(BY_NAME["inhibitor_dosed:yes|no"], firm, 130.0) == (36.0, "2 L of inhibitor")


def test_a_predose_pays_one_person_for_the_visit_ahead_by_hand(records: Records) -> None:
    """Journey 50 and 40 minutes there at 30 an hour: 45, and 20 % overhead on it: 54, however large the crew."""
    firm = Firm(hourly_rate=30.0, travel_minutes=50.0, predose_visit_minutes=40.0, overhead_share=0.2)
    adjusted = adjust(records, compare(records, BY_NAME["predose_days:7|0"]))

    with_visit, without = (
        worth(records, adjusted, replace(firm, **changed))
        for changed in ({}, {"travel_minutes": 0.0, "predose_visit_minutes": 0.0})
    )

    assert with_visit is not None
    assert without is not None
    assert with_visit.cost_per_job - without.cost_per_job == pytest.approx(54.0)
    assert "a visit ahead by one person" in with_visit.basis


def test_expected_callbacks_add_up_and_follow_the_case_mix(records: Records) -> None:
    found = expected_callbacks(records)

    assert found is not None
    assert found.cumulated.sum() == pytest.approx(found.seen.sum())
    worst = found.risk > np.quantile(found.risk, 0.75)
    assert found.seen[worst].mean() > 1.5 * found.seen[~worst].mean()


def test_the_funnel_names_who_is_far_out_and_nobody_else(world: World) -> None:
    """One engineer's jobs all get a callback on day 30: outside. The others differ by little."""
    jobs, callback = world.frames.jobs, world.frames.callback.copy()
    theirs = (jobs["engineer_id"] == "E003").to_numpy() & (callback["followed_days"] > 30).to_numpy()
    callback.loc[theirs, "first_debris_day"] = 30.0
    records = gather(replace(world.frames, callback=callback))

    found = funnel(records, expected_callbacks(records), 0.1)

    places = {each.engineer_id: each.place for each in found.engineers}
    assert places.pop("E003") == "more than expected"
    assert "more than expected" not in places.values()
    assert [each.engineer_id for each in found.engineers] == sorted(each.engineer_id for each in found.engineers)


def test_engineers_with_few_jobs_show_no_figures(world: World) -> None:
    jobs = world.frames.jobs.copy()
    jobs.loc[:9, "engineer_id"] = "E999"
    records = gather(replace(world.frames, jobs=jobs))

    found = {each.engineer_id: each for each in funnel(records, expected_callbacks(records), 0.1).engineers}

    assert (found["E999"].jobs, found["E999"].place) == (10, "too few jobs")
    assert found["E999"].observed is None
    assert found["E999"].adjusted_risk is None


def test_shrinking_a_ratio_by_hand() -> None:
    """Gamma prior of mean 1, variance 0.25: shape 4 + 10, rate 4 + 5, mean 14/9; less spread draws further."""
    mean, low, high = shrink(10, 5.0, 0.25)

    assert mean == pytest.approx(14 / 9)
    assert low < mean < high
    assert shrink(10, 5.0, 0.05)[0] < mean


def test_a_pool_of_firms_is_pooled_and_small_firms_are_protected() -> None:
    drawn = draw_world(21, 3000).frames
    firm = np.where(np.arange(3000) < 40, "tiny", np.array([f"firm-{at % 6}" for at in range(3000)]))
    frames = PracticeFrames(
        *(getattr(drawn, name).assign(firm_id=firm) for name in ("jobs", "quote", "outcome", "callback"))
    )

    records = gather(frames)

    found = pooled_effect(records, adjust(records, compare(records, BY_NAME[FILTER])))

    assert found is not None
    assert found.firms_used == 6
    assert found.difference is not None
    assert found.low is not None
    assert found.high is not None
    assert found.low < found.difference < found.high < 0
    tiny = {each.firm_id: each for each in found.firms}["tiny"]
    assert tiny.difference is None
    assert tiny.refused.startswith("Too few for a figure of its own")


def test_dose_response_starts_at_none_and_finds_the_planted_fall(audited: Audit) -> None:
    """Planted: seven days cut the log hazard by 0.35."""
    (dose,) = audited.doses

    assert dose.refused == ""
    assert dose.doses.tolist() == [0.0, 7.0]
    assert dose.difference[0] == 0
    assert dose.difference_low[1] < -0.025 < dose.difference_high[1]  # the true one is about −0.025


def test_two_stage_finds_a_slope_that_plain_regression_misses() -> None:
    """Planted −0.05 a kilogram; what nobody sees raises both catch and callbacks."""
    rng = np.random.default_rng(6)
    ways, hidden = rng.standard_normal((20_000, 3)), rng.standard_normal(20_000)
    kg = ways @ [0.5, 0.3, 0.2] + hidden + rng.standard_normal(20_000)
    outcome = 0.1 - 0.05 * kg + 0.1 * hidden + 0.3 * rng.standard_normal(20_000)

    slope, influence, strength = two_stage(kg - kg.mean(), outcome - outcome.mean(), ways, 0)

    error = float(np.sqrt((influence**2).sum()) / len(kg))
    assert abs(slope + 0.05) < 3 * error < 0.02
    assert strength > 1000
    assert np.polyfit(kg, outcome, 1)[0] > -0.02


def test_risk_per_kilogram_is_refused_where_nothing_was_weighed(records: Records) -> None:
    found = risk_per_kg(records)

    assert found.per_kg is None
    assert "0 weighed jobs" in found.refused
    assert change_in_risk(found, 1.0) is None


def test_a_change_in_risk_goes_no_further_than_catches_do() -> None:
    stored = RiskPerKg(-0.04, -0.06, -0.02, 365, 5000, 1.5, 30.0)

    assert change_in_risk(stored, 0.5) == pytest.approx((-0.02, -0.03, -0.01))
    assert change_in_risk(stored, -0.5) == pytest.approx((0.02, 0.01, 0.03))  # left in: more callbacks
    assert [within_usual(stored, kg) for kg in (9.0, 0.5, -9.0)] == [1.5, 0.5, -1.5]
