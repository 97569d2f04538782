"""One firm against the others of a pool: figures by hand, and that no other firm can be told from them."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from models.practice.cohort.audited_jobs import PracticeFrames
from models.practice.pool.own_firm import FEWEST_OTHERS, against_others, own_firm
from models.practice.pool.pooled_effects import random_effects
from models.practice.results.pool_results import FirmEffect, OwnFirm, PooledEffect
from models.refusals import NotEnoughData
from tests.benchmarks.studies.practice_world import draw_world

FILTER = "filter_fitted:on_return|none"


def pool(*effects: tuple[str, float, float]) -> PooledEffect:
    """Firms with effect and standard error; the pooled figures are not read."""
    firms = tuple(
        FirmEffect(name, 100, effect, error, effect - 2 * error, effect + 2 * error) for name, effect, error in effects
    )
    return PooledEffect(FILTER, "Filter", firms, len(firms), 100 * len(firms), *(None,) * 9)


def others(count: int, effect: float = -0.05) -> list[tuple[str, float, float]]:
    return [(f"other-{at}", effect, 0.01) for at in range(count)]


def test_the_others_are_pooled_without_the_firm_itself() -> None:
    drawn = [("a", -0.02, 0.01), ("b", -0.06, 0.02), ("c", -0.05, 0.01), ("d", -0.03, 0.02), ("e", -0.04, 0.01)]
    by_hand = random_effects(np.array([each[1] for each in drawn]), np.array([each[2] for each in drawn]))

    (row,) = against_others([pool(("own", 0.40, 0.01), *drawn)], "own", 100).practices

    assert row.difference == pytest.approx(by_hand.mean)
    assert (row.prediction_low, row.prediction_high) == pytest.approx((by_hand.prediction_low, by_hand.prediction_high))
    assert (row.own.difference, row.other_firms, row.other_jobs) == (0.40, 5, 500)


@pytest.mark.parametrize(
    ("own", "place"), [(-0.05, "like the others"), (0.15, "does less here"), (-0.25, "does more here")]
)
def test_a_firm_far_from_the_others_is_told_so_and_which_way(own: float, place: str) -> None:
    """Six others at −5 of 100 with 1 each: their mean has some 0.4, Student's t at 5; own 2: 20 apart is far."""
    (row,) = against_others([pool(("own", own, 0.02), *others(6))], "own", 100).practices

    assert row.place == place
    assert row.apart == pytest.approx(own + 0.05)


def test_below_the_least_number_of_others_nothing_of_them_is_shown() -> None:
    (row,) = against_others([pool(("own", -0.03, 0.01), *others(FEWEST_OTHERS - 1))], "own", 100).practices

    shown = [
        row.other_firms,
        row.other_jobs,
        row.difference,
        row.low,
        row.high,
        row.prediction_low,
        row.prediction_high,
        row.tau,
        row.i_squared,
        row.apart,
        row.p_value,
    ]
    assert shown == [None] * len(shown)
    assert row.own.difference == -0.03
    assert row.refused.startswith("Fewer than 5 other firms")


def test_a_mean_that_is_nearly_one_firms_own_figure_is_not_shown() -> None:
    """Standard error 0.001 beside 0.02 each: 99 % of the weight."""
    large = pool(("own", -0.03, 0.01), ("giant", -0.05, 0.001), *[(f"o{at}", -0.05, 0.02) for at in range(5)])

    (row,) = against_others([large], "own", 100).practices

    assert (row.difference, row.other_jobs) == (None, None)
    assert row.refused.startswith("One other firm would make up most")


def test_what_is_shown_does_not_move_with_who_the_others_are() -> None:
    """The same figures under other names, in another order: the same to the last digit."""
    drawn = [("a", -0.02, 0.01), ("b", -0.06, 0.02), ("c", -0.05, 0.01), ("d", -0.03, 0.02), ("e", -0.04, 0.01)]
    turned = [(f"z{name}", effect, error) for name, effect, error in drawn]

    first, second = (against_others([pool(("own", -0.01, 0.01), *firms)], "own", 100) for firms in (drawn, turned))

    assert first == second
    assert set(json.dumps(first.as_dict()).split('"')) & {name for name, _, _ in drawn} == set()


@pytest.fixture(scope="module")
def seven() -> PracticeFrames:
    """Seven firms of 600 jobs, one of them too small for figures of its own."""
    drawn = draw_world(21, 3600).frames
    firm = np.where(np.arange(3600) < 40, "tiny", np.array([f"firm-{at % 6}" for at in range(3600)]))
    return PracticeFrames(
        *(getattr(drawn, name).assign(firm_id=firm) for name in ("jobs", "quote", "outcome", "callback"))
    )


@pytest.fixture(scope="module")
def view(seven: PracticeFrames) -> OwnFirm:
    return own_firm(seven, "firm-2")


def test_no_other_firm_stands_anywhere_in_what_a_firm_is_shown(view: OwnFirm, seven: PracticeFrames) -> None:
    said = json.dumps(view.as_dict(), allow_nan=False)

    assert [name for name in sorted(set(seven.jobs["firm_id"])) if name in said] == ["firm-2"]
    assert view.jobs == 593  # 600 less those of "tiny"; all followed up
    row = {each.contrast: each for each in view.practices}[FILTER]
    assert row.other_firms == 5
    assert row.own.difference is not None


def test_a_firm_too_small_sees_the_others_but_no_figure_of_its_own(seven: PracticeFrames) -> None:
    row = {each.contrast: each for each in own_firm(seven, "tiny").practices}[FILTER]

    assert row.own.difference is None
    assert row.own.refused.startswith("Too few for a figure of its own")
    assert row.difference is not None
    assert row.place == "not known"


def test_with_five_firms_in_all_there_are_only_four_others_and_none_is_shown(seven: PracticeFrames) -> None:
    keep = ~seven.jobs["firm_id"].isin(["tiny", "firm-5"]).to_numpy()
    five = PracticeFrames(*(getattr(seven, name)[keep] for name in ("jobs", "quote", "outcome", "callback")))

    found = own_firm(five, "firm-2")

    assert {each.difference for each in found.practices} == {None}
    assert {each.other_jobs for each in found.practices} == {None}


def test_a_firm_without_jobs_is_refused(seven: PracticeFrames) -> None:
    with pytest.raises(NotEnoughData, match="followed jobs of nobody"):
        own_firm(seven, "nobody")


def test_chance_findings_are_controlled_over_the_practices() -> None:
    """One at p = 0.03 beside nine at 0.9: q is 0.3."""
    one = pool(("own", 0.005, 0.02), *others(6))
    apart = against_others([one], "own", 100).practices[0]
    assert apart.p_value is not None

    many = against_others(
        [replace(pool(("own", -0.05, 0.02), *others(6)), contrast=f"c{at}") for at in range(9)] + [one], "own", 100
    )

    assert many.practices[-1].q_value == pytest.approx(min(10 * apart.p_value, 1.0))
