"""What emitters done say of their house, by hand: precisions that add up, spreads by analysis of variance, a pace
learnt."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from models.catch.posterior.cumulative_posterior import EMITTER_PACE
from models.catch.posterior.priors import MIN_EMITTERS, EmitterPrior, _last_rows, _spreads, learn_pace, pool_log_kg
from models.catch.posterior.ridge import Ridge

NOTHING = np.zeros(0)


def test_a_house_is_known_by_its_emitters_as_their_precisions_say() -> None:
    """House sd 1, own sd 0.5: two emitters all but empty, 1 and 0.5 above what was expected: precision 1 + 4 + 4 = 9,
    mean (4·1 + 4·0.5) / 9 = 2/3, sd 1/3. With as much to come as came, half of it is open: variance 0.25 + 0.5² =
    0.5."""
    prior = EmitterPrior(Ridge(0.0, NOTHING, NOTHING, NOTHING), 1.0, 0.5, EMITTER_PACE, 200)

    done = prior.house_effect(np.array([3.0, 1.5]), np.array([2.0, 1.0]), np.zeros(2))
    begun = prior.house_effect(np.array([3.0, 1.5]), np.array([2.0, 1.0]), np.array([0.0, 1.0]))

    assert done == pytest.approx((2 / 3, 1 / 3))
    assert begun == pytest.approx(((4 + 1) / 7, 7**-0.5))
    assert prior.house_effect(NOTHING, NOTHING, NOTHING) == pytest.approx((0.0, 1.0))


def test_spreads_between_and_within_houses_by_hand() -> None:
    """Houses {1, 3}, {−2, −4, −3}, {6}: means 2, −3, 6; squares within 2 + 2 + 0 of 6 − 3 degrees of freedom: 4/3.
    Between: mean of 4 − 2/3, 9 − 4/9, 36 − 4/3 = 46.5556 / 3."""
    between, within = _spreads(np.array([1.0, -2, 3, -4, 6, -3]), np.array([0, 1, 0, 1, 2, 1]))

    assert within == pytest.approx((4 / 3) ** 0.5)
    assert between == pytest.approx(((4 - 2 / 3 + 9 - 4 / 9 + 36 - 4 / 3) / 3) ** 0.5)
    assert _spreads(np.zeros(3), np.array([0, 1, 2])) == (0.1, 0.1)


def arrays_of(at: list[int], log_tau: float = 0.0, square: float = 0.0) -> SimpleNamespace:
    """A job whose weighings, all but the first, had one emitter each in focus; curves end to end by emitter."""
    n = len(at)
    own = SimpleNamespace(
        log_tau=np.full(n, log_tau),
        log_tau_square=np.full(n, square),
        caught=np.arange(1.0, n + 1),
        to_come_share=np.full(n, 0.5),
    )
    return SimpleNamespace(at=np.array([-1, *at]), own_rows=np.arange(1, n + 1), own=own)


def test_the_last_weighing_of_each_emitter_tells_its_pool() -> None:
    """Emitters 0, 0, 1, 2, 2: rows 1, 2, 4; 2, 3, 5 kg caught and half as much to come."""
    one = arrays_of([0, 0, 1, 2, 2])

    assert _last_rows(one).tolist() == [1, 2, 4]  # type: ignore[arg-type]
    assert np.exp(pool_log_kg(one, np.array([1, 2, 4]))) == pytest.approx([3.0, 4.5, 7.5])  # type: ignore[arg-type]
    assert _last_rows(arrays_of([])).size == 0  # type: ignore[arg-type]


def test_a_pace_is_learnt_from_a_hundred_emitters_on_with_all_that_is_unsure_in_its_spread() -> None:
    """Half of them at log 2, half at log 4, each unsure by a variance of 0.25: centre 3, spread √(1 + 0.25)."""
    half = MIN_EMITTERS // 2
    jobs = [arrays_of(list(range(half)), 2.0, 4.25), arrays_of(list(range(half)), 4.0, 16.25)]
    few = [arrays_of(list(range(half)), 2.0, 4.25), arrays_of(list(range(half - 1)), 4.0, 16.25)]
    same = [arrays_of(list(range(MIN_EMITTERS)), 2.0, 4.0)]

    found = learn_pace(jobs)  # type: ignore[arg-type]

    assert (found.tau_min, found.spread) == pytest.approx((np.exp(3.0), 1.25**0.5))
    assert found.lump_kg == EMITTER_PACE.lump_kg
    assert learn_pace(few) == EMITTER_PACE  # type: ignore[arg-type]
    assert learn_pace(same).spread == pytest.approx(0.2)  # type: ignore[arg-type]
