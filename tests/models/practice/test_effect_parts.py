"""Parts of an effect on a few jobs, by hand: who is compared, the least that is asked, subgroups, curves,
instruments."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtri
from scipy.stats import norm

from models.practice.cohort.audited_jobs import Records
from models.practice.cohort.confounders import Known
from models.practice.cohort.contrasts import BY_NAME
from models.practice.effects.cost_effectiveness import callback_cost, material_cost, worth
from models.practice.effects.dose_response import trend_p
from models.practice.effects.doubly_robust import Adjusted, Compared, compare, too_few
from models.practice.effects.effect import judge, practice_effect
from models.practice.effects.estimators import Estimate
from models.practice.effects.risk_per_kg import effective_f, shrunk_slope, taken_out, two_stage
from models.practice.effects.subgroups import SUBGROUPS, subgroup_effects
from models.practice.effects.weighted_curves import TABLE_DAYS, practice_curves
from pipeline.contract.firm import Firm

FILTER = BY_NAME["filter_fitted:on_return|none"]
ONE = BY_NAME["isolation:one_at_a_time|all_open"]
NOTHING_KNOWN = Known(np.zeros((0, 0)), np.zeros(0, dtype=np.int64), (), (), (), np.zeros(0, dtype=np.int64))


def records_of(frame: pd.DataFrame, days: list[float], event: list[bool], engineer: list[int]) -> Records:
    """Records of a few jobs; the first callback of all is the debris callback."""
    at, seen = np.array(days, dtype=float), np.array(event)
    return Records(
        frame, at, seen, at, seen.astype(np.int64), np.array(engineer), max(engineer) + 1, NOTHING_KNOWN, {}, 0
    )


def compared_of(a: list[bool], days: list[float], event: list[bool]) -> Compared:
    return Compared(FILTER, np.arange(len(a)), np.array(a), np.array(days), np.array(event))


def test_compared_are_the_jobs_that_did_the_one_or_the_other_among_those_asked() -> None:
    """Two firms with the same job numbers; a null and another way are neither."""
    frame = pd.DataFrame(
        {
            "firm_id": list("aaabbb"),
            "job_id": ["J1", "J2", "J3"] * 2,
            "filter_fitted": pd.array(["on_return", "none", None, "on_flow", "on_return", "none"], dtype="string"),
        }
    )
    records = records_of(frame, [365.0, 366, 9, 9, 10, 400], [True, True, True, True, True, False], [0, 0, 0, 1, 1, 1])

    found, firm_b = compare(records, FILTER), compare(records, FILTER, np.array([False] * 3 + [True] * 3))

    assert (found.rows.tolist(), found.a.tolist()) == ([0, 1, 4, 5], [True, False, True, False])
    assert (found.callbacks(True), found.callbacks(False)) == (2, 0)  # day 366 is too late
    assert firm_b.rows.tolist() == [4, 5]


def of_sizes(with_: int, without: int, calls: tuple[int, int], followed: int = 10) -> Compared:
    """Groups with so many callbacks on day 365, `followed` of each other job to day 365, the rest to day 100."""
    parts = []
    for jobs, seen in ((with_, calls[0]), (without, calls[1])):
        parts.append(np.concatenate([np.full(seen, 365.0), np.full(followed, 365.0), np.full(jobs, 100.0)])[:jobs])
    event = [np.arange(jobs) < seen for jobs, seen in ((with_, calls[0]), (without, calls[1]))]
    a = np.arange(with_ + without) < with_
    return compared_of(a.tolist(), np.concatenate(parts).tolist(), np.concatenate(event).tolist())


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ((30, 40, (3, 12)), ""),
        ((40, 30, (12, 3)), ""),
        ((29, 40, (3, 12)), "the smaller group holds 29 jobs; 30 are the least"),
        ((40, 29, (12, 3)), "the smaller group holds 29 jobs; 30 are the least"),
        ((30, 40, (3, 11)), "3 and 11 debris callbacks within 365 days are too few"),
        ((30, 40, (2, 13)), "2 and 13 debris callbacks within 365 days are too few"),
        ((40, 30, (13, 2)), "13 and 2 debris callbacks within 365 days are too few"),
        ((30, 40, (3, 12), 9), "of one group only 9 jobs have been followed for 365 days; 10 are the least"),
    ],
)
def test_the_least_that_an_effect_asks_for(sizes: tuple, words: str) -> None:  # type: ignore[type-arg]
    found = too_few(of_sizes(*sizes))

    assert words in found
    assert bool(found) == bool(words)


def adjusted_of(compared: Compared, effect: list[float], difference: float) -> Adjusted:
    """An estimate whose influence on the difference is `effect`; every job kept, its chance a half."""
    n = len(effect)
    influence = np.column_stack([np.array(effect), np.zeros(n)])
    return Adjusted(
        compared,
        chance=np.full(n, 0.5),
        kept=np.ones(n, dtype=bool),
        fold=np.zeros(n, dtype=np.int64),
        estimate=Estimate(0.1 + difference, 0.1, influence),
        standard_error=0.01,
    )


def test_a_subgroup_is_the_mean_of_its_own_jobs_with_an_interval_for_looking_four_times() -> None:
    """60 sealed jobs, 30 each way: own contributions 0.02 more than the difference, alternating by 0.1; open-vented
    ones are 29 with and refused. Each job has an engineer of its own. Half width: z(1 − 0.05/8) · 0.1 / √59,
    widened by Student's t."""
    n, sealed = 130, np.arange(130) < 60
    a = np.where(sealed, np.arange(n) % 2 == 0, np.arange(n) < 60 + 29)
    event = (np.arange(n) % 4 < 2).tolist()
    kind = np.where(sealed, "sealed", "open_vented")
    frame = pd.DataFrame({"system_type": kind, "pipe_layout": None, "emitter_count": [15, 14] * 65})
    records = records_of(frame, [365.0] * n, event, list(range(n)))
    own = np.where(sealed, 0.02, -0.01) + 0.1 * np.where(np.arange(n) // 2 % 2 == 0, 1.0, -1.0)
    adjusted = adjusted_of(compared_of(a.tolist(), [365.0] * n, event), own.tolist(), -0.05)

    found = {each.code: each for each in subgroup_effects(records, adjusted)}

    half = float(ndtri(1 - 0.05 / 8)) * 0.1 / np.sqrt(59) * 2.000995 / 1.959964  # Student's t, 59 degrees (tables)
    one, two = found["sealed"], found["open_vented"]
    assert (one.difference, one.low, one.high) == pytest.approx((-0.03, -0.03 - half, -0.03 + half), rel=1e-5)
    assert (one.jobs_with, one.jobs_without, two.difference) == (30, 30, None)
    assert two.refused.startswith("Too few for an effect of its own: 29 and 41 jobs, ")
    assert (found["many_emitters"].jobs_with, found["many_emitters"].jobs_without) == (45, 20)
    assert [each.code for each in SUBGROUPS] == list(found)


def test_curves_end_at_the_horizon_and_are_weighted_by_what_was_done() -> None:
    """With: a callback on day 365 of chance 1/2 and a job of chance 1/4: weights 2 and 4, so a third had one.
    Without: one on day 200 of chance 1/2, one on day 366, which is too late, of chance 0.2: weights 2 and 1.25, 2 /
    3.25."""
    compared = compared_of([True, True, False, False], [365.0, 400, 200, 366], [True, False, True, True])
    records = records_of(pd.DataFrame({"x": range(4)}), [365.0, 400, 200, 366], [True, False, True, True], [0, 1, 2, 3])
    adjusted = replace(adjusted_of(compared, [0.0] * 4, 0.0), chance=np.array([0.5, 0.25, 0.5, 0.2]))

    found = practice_curves(records, adjusted)

    assert found is not None
    assert found.adjusted_with is not None
    assert found.adjusted_without is not None
    assert found.adjusted_with.estimate[-1] == pytest.approx(1 / 3)
    assert found.adjusted_without.estimate[-1] == pytest.approx(2 / 3.25)
    assert [each.estimate[-1] for each in (found.free_with, found.free_without)] == pytest.approx([0.5, 0.5])
    assert found.debris_without.estimate[-1] == pytest.approx(0.5)
    assert (found.at_risk_with.tolist(), found.at_risk_without.tolist()) == ([2] * 7, [2] * 4 + [1] * 3)
    assert TABLE_DAYS.tolist() == [0, 60, 120, 180, 240, 300, 365]


def test_what_units_and_columns_explain_is_taken_out_by_hand() -> None:
    """Less unit means the parts are −1, 1, −2, 2 and the column −1, 1, −1, 1: slope 6 / 4, so that 0.5 each is left."""
    parts = np.array([[1.0], [3.0], [8.0], [12.0]])
    x = np.array([[4.0], [6.0], [0.0], [2.0]])

    found = taken_out(parts, x, np.array([7, 7, 3, 3]))

    assert found[:, 0] == pytest.approx([0.5, -0.5, -0.5, 0.5])


def test_two_stages_by_hand() -> None:
    """Way −1, 1, −1, 1; dose −1, 1, −3, 3: first stage slope 8 / 4 = 2, fitted −2, 2, −2, 2. Outcome 1, −1, 0, −2:
    slope (−2 − 2 + 0 − 4) / (2 + 2 + 6 + 6) = −1/2. Influence fitted · (outcome + dose / 2) / 4. Strength: 16 over
    the misses 1, 1, 1, 1 by 4 − 1 − 1 = 2 degrees of freedom: 16 / 2."""
    dose, outcome, ways = np.array([-1.0, 1, -3, 3]), np.array([1.0, -1, 0, -2]), np.array([[-1.0], [1], [-1], [1]])

    slope, influence, strength = two_stage(dose, outcome, ways, 1)

    assert (slope, strength) == pytest.approx((-0.5, 8.0))
    assert influence == pytest.approx(np.array([-2.0, 2, -2, 2]) * np.array([0.5, -0.5, -1.5, -0.5]) / 4)
    # the same way told twice is one way
    assert two_stage(dose, outcome, np.hstack([ways, 2 * ways]), 1)[2] == pytest.approx(8.0)


def test_the_strength_of_jobs_that_go_together_by_hand() -> None:
    """Five times way −1, 1, −1, 1 and dose −1, 1, −3, 3: slope 2, misses 1, −1, −1, 1, so that pairs go together."""
    dose, way = np.tile([-1.0, 1, -3, 3], 5), np.tile([-1.0, 1, -1, 1], 5)[:, None]
    pairs = np.repeat(np.arange(10), 2)

    # basis ±1/√20: moved 40/√20, squared 80; each pair's misses sum to ∓2/√20, squared 1/5, ten of them 2, times 10/9
    assert effective_f(dose, way, pairs) == pytest.approx(80 / (2 * 10 / 9))
    assert effective_f(dose, np.hstack([way, 2 * way]), pairs) == pytest.approx(36.0)
    # each for itself: misses ±1/√20, squared 1/20, twenty of them 1, times 20/19
    assert effective_f(dose, way, np.arange(20)) == pytest.approx(80 / (20 / 19))
    assert effective_f(dose, way, pairs % 9) == np.inf  # nine engineers tell no error


def test_a_slope_is_shrunk_by_what_was_to_be_expected_by_hand() -> None:
    """Spread 0.03, error 0.04: 9 of 25 parts are kept, and √(9/25) of the error. A clear one stays."""
    assert shrunk_slope(-0.05, 0.04, 0.03) == pytest.approx((-0.018, 0.024))
    assert shrunk_slope(-0.05, 1e-6, 0.03) == pytest.approx((-0.05, 1e-6))


def test_a_trend_over_doses_by_hand() -> None:
    """Doses e⁰ − 1, e¹ − 1, e² − 1: log(1 + dose) 0, 1, 2, weights −1/2, 0, 1/2. Means 0.10, 0.09, 0.06: −0.02 a step.
    Influence of two jobs ±0.02 on the last mean: error √(2 · 0.01²) / 2."""
    influence = np.array([[0.0, 0.0, 0.02], [0.0, 0.0, -0.02]])

    found = trend_p(np.expm1([0.0, 1.0, 2.0]), np.array([0.10, 0.09, 0.06]), influence, np.array([0, 1]))

    assert found == pytest.approx(2 * norm.sf(0.02 / (0.01 / np.sqrt(2))))


def test_what_a_practice_is_worth_by_hand() -> None:
    """Difference −0.05 with influences ±0.1 of 4 jobs: error 0.05, half 0.098. A filter of 10 with a tenth of
    overhead: 11; a callback by `callback_cost`. Nothing is sure: no price for
    each avoided."""
    firm = Firm(filter_cost=10.0, overhead_share=0.1)
    frame = pd.DataFrame({"system_volume_l": [90.0, 110, np.nan, 100], "site_minutes": [300.0] * 4})
    records = records_of(frame, [365.0] * 4, [True, False] * 2, [0, 1, 2, 3])
    compared = compared_of([True, True, False, False], [365.0] * 4, [True, False] * 2)

    unsure = worth(records, adjusted_of(compared, [0.1, -0.1, 0.1, -0.1], -0.05), firm)
    sure = worth(records, adjusted_of(compared, [0.01, -0.01, 0.01, -0.01], -0.05), firm)

    assert unsure is not None
    assert sure is not None
    half, each = 1.959964 * 0.05, callback_cost(firm)
    assert (unsure.avoided_per_100, unsure.avoided_low, unsure.avoided_high) == pytest.approx(
        (5.0, 100 * (0.05 - half), 100 * (0.05 + half)), abs=1e-5
    )
    assert (unsure.cost_per_job, unsure.cost_per_avoided) == (pytest.approx(11.0), None)
    assert sure.cost_per_avoided == pytest.approx(11.0 / 0.05)
    assert unsure.net_per_job == pytest.approx(0.05 * each - 11.0)
    assert unsure.net_high - unsure.net_per_job == pytest.approx(half * each, rel=1e-5)
    assert unsure.net_per_job - unsure.net_low == pytest.approx(half * each, rel=1e-5)
    assert unsure.basis == "one filter with fittings, 10 % overhead"


@pytest.mark.parametrize(
    ("name", "pack", "cost", "words"),
    [
        ("inhibitor_dosed:yes|no", 0.0, 1.95 * 10, "1.95 L of inhibitor"),
        ("predose_days:7|0", 1.0, 3 * 20.0, "3 L of cleaning chemical"),
        ("predose_days:7|0", 0.0, 2.6 * 20.0, "2.6 L of cleaning chemical"),
        ("predose_days:7|0", 1.3, 2.6 * 20.0, "2.6 L of cleaning chemical"),
        ("flow_reversed:yes|no", 1.0, 0.0, "no material"),
    ],
)
def test_material_of_each_practice_by_hand(name: str, pack: float, cost: float, words: str) -> None:
    """130 L: 1.5 L of inhibitor and 2 L of cleaner to 100 L; 2.6 L are just two packs of 1.3."""
    firm = Firm(
        inhibitor_dose_l_per_100_l=1.5,
        inhibitor_cost_per_l=10.0,
        cleaner_dose_l_per_100_l=2.0,
        cleaner_cost_per_l=20.0,
        chemical_pack_l=pack,
    )

    assert material_cost(BY_NAME[name], firm, 130.0) == (pytest.approx(cost), words)


def test_the_raw_difference_and_the_counts_of_a_refused_contrast_by_hand() -> None:
    """Everyone followed: 1 of 2 with, 0 of 2 without; Greenwood error of 1/2 is √(1/2 · 1/2 / 2), of 0 none."""
    frame = pd.DataFrame({"isolation": ["one_at_a_time"] * 2 + ["all_open"] * 2 + [None, "groups"]})
    days, event = [365.0, 365, 365, 400, 10, 10], [True, False, False, False, True, True]
    effect, adjusted = practice_effect(records_of(frame, days, event, [0] * 6), ONE)

    assert adjusted.estimate is None
    assert effect.raw is not None
    assert (effect.raw.risk_with, effect.raw.risk_without, effect.raw.difference) == pytest.approx((0.5, 0.0, 0.5))
    half = 1.959964 * np.sqrt(0.125)
    assert (effect.raw.low, effect.raw.high) == pytest.approx((0.5 - half, 0.5 + half), rel=1e-6)
    assert (effect.jobs, effect.jobs_with, effect.jobs_without) == (4, 2, 2)
    assert (effect.callbacks_with, effect.callbacks_without) == (1, 0)
    assert effect.left_out == {"did neither, or not known": 2}


def test_how_many_jobs_are_planned_for_a_refused_contrast_by_hand() -> None:
    """4 jobs, half with, risk 0.1: error 1.3 · √(0.09 / (4 · 1/4)) = 0.39, detectable 1.0926; a quarter of 0.1 is
    0.025: 4 · (43.70² − 1) = 7,637, told as 7,700. Nobody with: nothing can be planned."""
    frame = pd.DataFrame({"isolation": ["one_at_a_time"] * 2 + ["all_open"] * 2})
    effect = practice_effect(records_of(frame, [365.0] * 4, [True, False] * 2, [0] * 4), ONE)[0]

    (planned,) = judge([effect], 0.1)
    (nobody,) = judge([replace(effect, jobs_with=0)], 0.1)
    (no_risk,) = judge([effect], 0.0)

    assert planned.detectable_difference == pytest.approx(0.39 * 2.801585, rel=1e-6)
    assert (planned.target_difference, planned.jobs_needed) == (pytest.approx(-0.025), 7700)
    assert nobody.jobs_needed is None
    assert no_risk.jobs_needed is None
