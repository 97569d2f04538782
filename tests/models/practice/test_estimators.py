"""Weighting, its error and pseudo-outcomes on a few jobs, with the sums written out."""

from __future__ import annotations

import numpy as np
import pytest

from models.practice.cohort.censoring import followed_to, outcomes_by_stratum, pseudo_outcomes, strata
from models.practice.effects.doubly_robust import FEWEST_ENGINEERS, p_value, standard_error
from models.practice.effects.estimators import doubly_robust, influence_error

Y = np.array([1.0, 0.0, 1.0, 0.0])
DONE = np.array([True, True, False, False])
CHANCE = np.array([0.5, 0.25, 0.5, 0.2])


def test_weights_of_either_way_are_brought_to_average_one_by_hand() -> None:
    """With: weights 2 and 4, so (2·1 + 4·0) / 6 = 1/3. Without: 2 and 1.25, so 2 / 3.25 = 8/13. Nothing expected."""
    found = doubly_robust(Y, DONE, CHANCE, np.zeros(4), np.zeros(4))

    assert (found.with_mean, found.without_mean) == pytest.approx((1 / 3, 8 / 13))
    assert found.difference == pytest.approx(1 / 3 - 8 / 13)


def test_unequal_expectations_are_put_right_by_the_weighted_misses_by_hand() -> None:
    """With: expected 0.6, 0.2, 0.4, 0.8, mean 0.5; misses 0.4 and −0.2 weigh 2 and 4: (0.8 − 0.8) / 6 = 0, so 0.5.
    Without: 0.1, 0.3, 0.5, 0.3, mean 0.3; misses 0.5 and −0.3 weigh 2 and 1.25: 0.625 / 3.25 = 5/26, so 0.3 + 5/26."""
    found = doubly_robust(Y, DONE, CHANCE, np.array([0.6, 0.2, 0.4, 0.8]), np.array([0.1, 0.3, 0.5, 0.3]))

    assert (found.with_mean, found.without_mean) == pytest.approx((0.5, 0.3 + 5 / 26))
    assert found.influence.mean(axis=0) == pytest.approx([0.0, 0.0], abs=1e-12)
    # the first job, with: 0.6 + (2 / 1.5)·0.4 − 0.5, where 1.5 is the mean weight of the four
    assert found.influence[0, 0] == pytest.approx(0.6 + 0.4 * 2 / 1.5 - 0.5)
    assert found.of_difference == pytest.approx(found.influence[:, 0] - found.influence[:, 1])


def test_a_constant_more_for_every_job_moves_both_means_by_it() -> None:
    """So it is with weights that average 1, and not with others."""
    nothing = np.zeros(4)
    low, high = (doubly_robust(Y + more, DONE, CHANCE, nothing, nothing) for more in (0.0, 10.0))

    assert (high.with_mean - low.with_mean, high.without_mean - low.without_mean) == pytest.approx((10.0, 10.0))


def test_the_error_job_by_job_and_by_few_clusters_by_hand() -> None:
    """Influences 3, 1, −2, −2: √(9 + 1 + 4 + 4) / 4. Clusters {3, 1} and {−2, −2}: sums 4 and −4, √(32 · 2/1) / 4 = 2.
    Of three, {3}, {1, −2}, {−2}: sums 3, −1, −2, √(14 · 3/2) / 4; numbers of clusters need not begin at 0 or be
    dense."""
    influence = np.array([3.0, 1.0, -2.0, -2.0])

    assert influence_error(influence) == pytest.approx(np.sqrt(18) / 4)
    assert influence_error(influence, np.array([7, 7, 9, 9])) == pytest.approx(2.0)
    assert influence_error(influence, np.array([3, 5, 5, 8])) == pytest.approx(np.sqrt(21) / 4)
    assert influence_error(influence, np.zeros(4, dtype=int)) == pytest.approx(0.0)
    assert influence_error(np.array([3.0, 1.0]), np.array([4, 4])) == pytest.approx(2.0)  # one cluster: no factor


@pytest.mark.parametrize(("engineers", "error"), [(FEWEST_ENGINEERS - 1, 1.0), (FEWEST_ENGINEERS, 2.0)])
def test_jobs_of_one_engineer_go_together_from_ten_engineers_on(engineers: int, error: float) -> None:
    """k engineers of two jobs each, both 1 or both −1: job by job √(2k) / 2k; by engineer √(4k · k/(k − 1)) / 2k.

    Of ten engineers a 95 % interval reaches 2.262157 errors (Student's t with 9 degrees of freedom, tables), not
    1.959964."""
    sign = np.where(np.arange(engineers) % 2 == 0, 1.0, -1.0)
    influence, unit = np.repeat(sign, 2), np.repeat(np.arange(engineers) * 3 + 5, 2)

    alone, together = np.sqrt(2 * engineers) / (2 * engineers), 2.262157 / 1.959964 * np.sqrt(1 / (engineers - 1))
    assert standard_error(influence, unit) == pytest.approx({1.0: alone, 2.0: together}[error])
    # where jobs of one engineer offset each other, the larger error stands: job by job
    assert standard_error(np.tile([1.0, -1.0], engineers), unit) == pytest.approx(alone)


def test_the_p_value_of_ten_engineers_is_that_of_students_t() -> None:
    """By engineer the error is 1/3; t₉ is beyond ±2.262157 with 5 % and beyond ±3.249836 with 1 % (tables). Of nine
    engineers the normal one by job counts: √18 / 18, beyond ±1.959964 of it with 5 %."""
    influence, unit = np.repeat(np.where(np.arange(10) % 2 == 0, 1.0, -1.0), 2), np.repeat(np.arange(10), 2)

    assert [p_value(at / 3, influence, unit) for at in (2.262157, -3.249836)] == pytest.approx([0.05, 0.01], rel=1e-4)
    assert p_value(1.959964 / np.sqrt(18), influence[:18], unit[:18]) == pytest.approx(0.05, rel=1e-4)
    # where jobs of one engineer offset each other, what is said job by job stands: √20 / 20
    assert p_value(1.959964 / np.sqrt(20), np.tile([1.0, -1.0], 10), unit) == pytest.approx(0.05, rel=1e-4)


def test_a_callback_on_day_365_is_within_the_year_and_one_on_day_366_is_not() -> None:
    """Everyone followed: the outcome is what happened. Two callbacks on the day itself are a tie."""
    days = np.array([365.0, 365.0, 366.0, 365.0, 400.0])
    event = np.array([True, True, True, False, False])

    assert pseudo_outcomes(days, event, 365.0) == pytest.approx([1, 1, 0, 0, 0], abs=1e-12)
    assert followed_to(days, event, 365.0) == 3


def test_pseudo_outcomes_of_four_jobs_with_one_lost_by_hand() -> None:
    """Event on day 10 of 4 at risk, one lost on day 20, event on day 30 of 2: S = 3/4 · 1/2 = 3/8.

    Event jumps n / left: 4/3 on day 10, 4/1 = 4 on day 30. Drift: 4/3 · 1/4 = 1/3 from day 10, + 4 · 1/2 = 7/3 from day
    30. Outcomes 1 − 3/8 + 3/8 · (jump − drift): 5/8 + 3/8 · (1; −1/3; 5/3; −7/3) = 1, 1/2, 5/4, −1/4; mean 5/8.
    """
    found = pseudo_outcomes(np.array([10.0, 20, 30, 400]), np.array([True, False, True, False]), 365.0)

    assert found == pytest.approx([1.0, 0.5, 1.25, -0.25])
    assert found.mean() == pytest.approx(5 / 8)


def test_where_every_job_has_its_callback_every_outcome_is_one() -> None:
    assert pseudo_outcomes(np.array([10.0, 20.0]), np.array([True, True]), 365.0).tolist() == [1.0, 1.0]


def test_strata_are_by_practice_and_parted_where_both_parts_are_large_enough() -> None:
    """Of 400 jobs 200 did it; 100 of either way leave early, followed for a year by all, or by 9 of those 100 only."""
    practice, early = np.arange(400) < 200, np.arange(400) % 2 == 0
    days, event = np.full(400, 365.0), np.zeros(400, dtype=bool)

    parted = strata(practice, early, days, event, 365.0)
    days[np.flatnonzero(practice & early)[9:]] = 100.0
    joined = strata(practice, early, days, event, 365.0)
    days[np.flatnonzero(practice & early)[9]] = 365.0
    at_least = strata(practice, early, days, event, 365.0)

    assert np.unique(parted, return_counts=True)[1].tolist() == [100] * 4
    assert sorted(np.unique(joined, return_counts=True)[1].tolist()) == [100, 100, 200]
    assert np.array_equal(at_least, parted)


def test_outcomes_are_those_of_each_stratum_by_itself() -> None:
    """The one above, beside a stratum in which nobody was called back."""
    days, event = np.array([10.0, 50, 20, 50, 30, 400, 400]), np.array([1, 0, 0, 0, 1, 0, 0], dtype=bool)

    found = outcomes_by_stratum(np.array([2, 0, 2, 0, 2, 2, 0]), days, event, 365.0)

    assert found == pytest.approx([1.0, 0.0, 0.5, 0.0, 1.25, -0.25, 0.0])


@pytest.mark.parametrize(("early_with", "parts"), [(100, [100] * 4), (99, [200, 100, 100]), (101, [200, 100, 100])])
def test_a_part_of_99_jobs_is_joined_to_the_other_and_one_of_100_is_not(early_with: int, parts: list[int]) -> None:
    """200 jobs did it, 200 did not, all followed for a year; of those that did it 100 leave early, or 99, or 101."""
    practice = np.arange(400) < 200
    early = np.where(practice, np.arange(400) < early_with, np.arange(400) < 300)

    codes = strata(practice, early, np.full(400, 365.0), np.zeros(400, dtype=bool), 365.0)

    assert sorted(np.unique(codes, return_counts=True)[1].tolist()) == sorted(parts)
    assert not set(codes[practice]) & set(codes[~practice])
