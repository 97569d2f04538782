"""One-sided stocks: each changes what it names, in the share that it names, and nothing else."""

from dataclasses import fields

import numpy as np
import pytest

from models.physics.pipes import contents_l_m
from pipeline.contract.job_log import EMITTER_KINDS
from synthetic_data.flush import flush
from synthetic_data.flush.release import FLAKE, MEDIUM, OTHER
from synthetic_data.flush.world import chemical_factor
from synthetic_data.house.house import HEAT_PUMP, build_houses
from synthetic_data.house.stock import BUFFER_L, LOOP_L_M, LOOP_M, one_sided
from synthetic_data.house.system import LOOP_BORE_MM
from synthetic_data.parameters import HouseParameters, ReleaseParameters

JOBS = 400


@pytest.fixture(scope="module")
def houses():
    return build_houses(np.random.default_rng(5), JOBS)


def changed(houses, **shares):
    return one_sided(np.random.default_rng(6), houses, HouseParameters(**shares))


def test_a_stock_that_asks_for_nothing_is_the_one_that_was_drawn(houses):
    same = changed(houses)

    assert all(np.array_equal(getattr(same, item.name), getattr(houses, item.name)) for item in fields(houses))


def test_blocked_and_stuck_valves_come_in_the_share_asked_for(houses):
    blocked = changed(houses, blocked_share=0.15).valve_factor[houses.present]
    stuck = changed(houses, stuck_pin_share=0.33).valve_factor[houses.present & houses.thermostatic]

    for factor, share, worth in ((blocked, 0.15, 0.01), (stuck, 0.33, 0.12)):
        assert set(np.unique(factor)) == {worth, 1.0}
        # four standard errors of a share
        assert (factor < 1).mean() == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / factor.size))


def test_heat_pumps_give_what_the_emitters_take_at_30_k_and_hold_a_buffer(houses):
    pumps = changed(houses, heat_pump_share=1.0)
    # 30 K of excess: (30 / 50)^1.3 = 0.515 of the rating, and 1 kW in hand, at least 4
    by_hand = np.maximum(np.round(houses.output_w.sum(axis=1) / 1000 * 0.6**1.3 + 1), 4)

    assert (pumps.boiler_kind == HEAT_PUMP).all()
    assert pumps.boiler_kw == pytest.approx(by_hand)
    assert (pumps.buffer_l >= BUFFER_L).mean() == pytest.approx(0.8, abs=0.08)
    assert (pumps.coil_l == 0).all()


def test_underfloor_loops_lie_downstairs_and_hold_what_their_pipe_holds(houses):
    loops = changed(houses, underfloor_share=1.0)
    here = loops.present & (loops.floor == 0)

    assert (loops.kind[here] == EMITTER_KINDS.index("underfloor_loop")).all()
    assert loops.contents_l[here] == pytest.approx(LOOP_M * LOOP_L_M)
    assert contents_l_m(LOOP_BORE_MM) == pytest.approx(LOOP_L_M, rel=0.01)
    assert np.array_equal(loops.contents_l[~here], houses.contents_l[~here])


def test_antifreeze_slows_the_flow_and_a_blocked_tail_nearly_stops_it(drawn):
    usual, thick, blocked = (drawn(name, 100, 8)[0] for name in ("usual", "antifreeze", "blocked_outright"))
    flow, slow, stopped = (chunk.outcome.flows.branch[0, 1, :100] for chunk in (usual, thick, blocked))
    cold = thick.houses.antifreeze & ~usual.houses.antifreeze
    shut = (blocked.houses.valve_factor < 1) & blocked.houses.present & (usual.plans.isolation == 2)[:, None]

    assert cold.sum() > 50
    assert (slow[cold].sum(axis=1) < flow[cold].sum(axis=1)).all()
    assert np.median(stopped[shut] / flow[shut]) < 0.1


def test_a_failing_pump_moves_what_is_left_of_its_flow(still_world):
    world, state = still_world(defects={"from_min": 1, "pump_ratio": 0.3})
    flush.refresh(state, world, 1)

    assert state.flow_l_min[0] == pytest.approx(0.3 * state.clear_flow_l_min[0])


def test_the_first_water_of_a_station_goes_to_waste_and_later_water_does_not(still_world):
    world, state = still_world(dump_minutes=5.0)
    state.water[0, MEDIUM, 0] = 0.1
    state.focus_min[:] = 5.0
    assert flush.rinse_share(state, world)[0] == 0.0
    state.focus_min[:] = 4.0
    share = flush.rinse_share(state, world)[0]
    fresh = min(16.0, state.flow_l_min[0]) / state.circuit_l[0]

    assert share == pytest.approx(0.6 * min(fresh, 0.5))
    flush.catch(state, world)
    assert state.rinsed.sum() > 0.0


def test_a_cleaner_works_by_days_of_contact():
    """On the day half; after three days 0.5 + 0.5 (1 − 1/e) = 0.816; four times the dose works twice as hard."""
    from types import SimpleNamespace

    plans = SimpleNamespace(predose_days=np.array([0, 3, 1000, 0]), dose_ratio=np.array([1.0, 1.0, 1.0, 4.0]))

    assert chemical_factor(plans, ReleaseParameters()) == pytest.approx([0.5, 0.816, 1.0, 1.0], abs=5e-4)


def test_a_joint_through_valves_strains_flakes_and_sand_and_nothing_finer(still_world):
    through, clear = (still_world(connection=joint)[0].tables.drop[0, 0, 0, :, 0] for joint in (3, 0))
    without = still_world(connection=3, numbers={"release__valve_strain": 0.0})[0].tables.drop[0, 0, 0, :, 0]

    # 1 − (1 − d)(1 − 0.12) where d settles without; another joint strains nothing
    for kind in (FLAKE, OTHER):
        assert through[kind] == pytest.approx(1 - (1 - without[kind]) * 0.88)
    assert through[MEDIUM] == without[MEDIUM]
    assert clear[FLAKE] < through[FLAKE]
