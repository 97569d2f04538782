"""Simulation-based calibration of what past jobs teach of emitters to come, and planted parameters found again."""

from __future__ import annotations

import numpy as np
import pytest

from models.catch.posterior.job_arrays import EMITTER_FEATURES
from models.catch.posterior.priors import EmitterPrior, learn_emitters, learn_pace
from models.catch.records.ragged_arrays import Floats
from tests.models.catch import own_world

WORLDS, HOUSES = 480, 220
ONCE_IN_A_THOUSAND = 0.001


@pytest.fixture(scope="module")
def ranks() -> dict[str, Floats]:
    return own_world.ranks(WORLDS, seed=12)


@pytest.fixture(scope="module")
def houses() -> list[own_world.World]:
    """Houses of the own world whose ten emitters all had the flow."""
    rng = np.random.default_rng(9)
    return [own_world.World(rng, 10, weighings=6) for _ in range(HOUSES)]


@pytest.fixture(scope="module")
def learnt(houses: list[own_world.World]) -> EmitterPrior:
    sheets = [house.arrays for house in houses]
    found = learn_emitters(sheets, learn_pace(sheets, own_world.PACE))
    assert found is not None
    return found


@pytest.mark.parametrize("name", ["effect", "one waiting", "all waiting"])
def test_ranks_of_the_truth_are_flat(ranks: dict[str, Floats], name: str) -> None:
    assert own_world.unevenness(ranks[name])[1] > ONCE_IN_A_THOUSAND


@pytest.mark.parametrize("name", ["one waiting", "all waiting"])
def test_an_80_percent_range_of_emitters_to_come_holds_four_times_in_five(ranks: dict[str, Floats], name: str) -> None:
    inside = float(((ranks[name] > 0.1) & (ranks[name] < 0.9)).mean())

    # three and a half standard errors of a share of 0.8 among so many worlds
    assert inside == pytest.approx(0.8, abs=3.5 * (0.16 / WORLDS) ** 0.5)


def test_a_wrong_belief_about_houses_would_be_seen() -> None:
    wrong = own_world.ranks(300, seed=12, done=(1, 3), believed_sd=0.2)

    assert own_world.unevenness(wrong["all waiting"])[1] < ONCE_IN_A_THOUSAND


def test_planted_spreads_between_and_within_houses_are_found_again(
    houses: list[own_world.World], learnt: EmitterPrior
) -> None:
    effects = np.array([house.effect for house in houses])

    # against the sd that these houses happen to have; pools are read off curves whose end is not seen: 0.11 of error
    # in their logarithm, which makes sqrt(0.5² + 0.11²) = 0.512 of the 0.5 within a house
    assert learnt.house_sd == pytest.approx(effects.std(), rel=0.05)
    assert learnt.own_sd == pytest.approx(0.512, rel=0.06)


def test_the_planted_power_of_size_and_the_planted_pace_are_found_again(learnt: EmitterPrior) -> None:
    slope = learnt.line.weights[EMITTER_FEATURES.index("log_content")]

    # emitters scatter by 0.5 and sizes by 0.3: standard error 0.5 / (0.3 · sqrt(2200)) = 0.036, houses add a little
    assert slope == pytest.approx(1.0, abs=0.14)
    assert learnt.pace.tau_min == pytest.approx(own_world.PACE.tau_min, rel=0.1)
    assert learnt.pace.spread == pytest.approx(own_world.PACE.spread, rel=0.15)
