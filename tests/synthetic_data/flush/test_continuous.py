"""Minute steps against an adaptive solver on the same equations."""

from dataclasses import astuple

import numpy as np
import pytest

from synthetic_data.flush.continuous import Job, pools, solve, step_on
from synthetic_data.house.house import MICROBORE

# 60 minutes of splitting: water within 1 K, every pool within 3 % of all debris in the job
WATER_K, SHARE = 1.0, 0.03


@pytest.mark.parametrize(
    "given",
    [
        {"emitters": 8, "isolation": 2, "heat_source": 2, "heater_kw": 6.0},
        {"emitters": 1, "heat_source": 2, "heater_kw": 2.0, "agitation": 3},
        {"emitters": 3, "isolation": 2, "layout": MICROBORE},
        {"emitters": 8, "isolation": 2, "sand_kg": 0.4},
    ],
)
def test_minute_steps_agree_with_an_adaptive_solver(still_world, given):
    world, state = still_world(set_point_c=95.0, **given)
    exact = solve(Job.of(world, state, 0), 120)
    found = pools(step_on(world, state, 120), 0)

    total = 1.0 * given["emitters"] + given.get("sand_kg", 0.1) * given["emitters"]
    assert found.water_c == pytest.approx(exact.water_c, abs=WATER_K)
    assert astuple(found)[1:] == pytest.approx(astuple(exact)[1:], abs=SHARE * total)
    assert sum(astuple(exact)[1:]) == pytest.approx(total, rel=1e-6)


def test_the_solver_finds_a_planted_first_order_law(still_world):
    # no lift: what is baked on softens by e^(−kt) at 50 °C, nothing else happens
    numbers = {"release__lift_per_min": 0.0, "release__loosen_kj_mol": 0.0}
    world, state = still_world(numbers=numbers, start_c=50.0)
    rate = float(state.loosen[0, 0])

    assert solve(Job.of(world, state, 0), 90).consolidated_kg == pytest.approx(0.5 * np.exp(-90 * rate), rel=1e-5)
