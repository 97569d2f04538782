"""Plant a mechanism, find it again: one emitter, flushed for some minutes under known conditions."""

import numpy as np
import pytest

from synthetic_data import flush


def minutes_of_release(world, state, minutes, temp_c=50.0):
    """Carry on releasing at a fixed temperature, with everything carried away at once."""
    for _ in range(minutes):
        state.emitter_c[:] = temp_c
        flush.release(state, world)
        state.carried[:] = 0.0
    return state


def test_loose_debris_leaves_by_the_planted_rate(still_world):
    world, state = still_world(consolidated_kg=0.0, loose_kg=1.0)
    rate = float(state.lift[0, 0])

    minutes_of_release(world, state, 20)

    assert state.loose[0, 0] == pytest.approx(np.exp(-20 * rate), rel=1e-9)


def test_consolidated_debris_softens_by_the_planted_rate(still_world):
    world, state = still_world(consolidated_kg=1.0, loose_kg=0.0)
    rate = float(state.loosen[0, 0])

    minutes_of_release(world, state, 60)

    assert state.consolidated[0, 0] == pytest.approx(np.exp(-60 * rate), rel=1e-9)


@pytest.mark.parametrize("temp_c", [20.0, 35.0, 65.0])
def test_heat_changes_softening_by_the_planted_activation_energy(still_world, temp_c):
    world, state = still_world(consolidated_kg=1.0, loose_kg=0.0)
    rate_at_50 = float(state.loosen[0, 0])
    minutes_of_release(world, state, 1, temp_c)

    found = -np.log(state.consolidated[0, 0]) / rate_at_50
    # Arrhenius, written out: 32 kJ/mol, R = 8.314 J/(mol K), 50 °C = 323.15 K
    assert found == pytest.approx(np.exp(32_000 / 8.314 * (1 / 323.15 - 1 / (temp_c + 273.15))), rel=1e-6)


def test_lift_grows_with_flow_to_the_planted_power(still_world):
    slow_world, slow = still_world(machine_l_min=20.0)
    fast_world, fast = still_world(machine_l_min=40.0)
    exponent = np.log(fast.lift[0, 0] / slow.lift[0, 0]) / np.log(fast.branch_l_min[0, 0] / slow.branch_l_min[0, 0])

    assert fast_world.parameters == slow_world.parameters
    assert exponent == pytest.approx(slow_world.parameters.flush.lift_flow_exponent, rel=1e-9)


@pytest.mark.parametrize(("agitation", "gain"), [(0, 1.0), (1, 1.4), (2, 1.4), (3, 1.64)])
def test_agitation_lifts_by_the_planted_gain(still_world, agitation, gain):
    _, plain = still_world()
    _, shaken = still_world(agitation=agitation)

    assert shaken.lift[0, 0] / plain.lift[0, 0] == pytest.approx(gain)


def test_half_draining_undoes_the_weak_middle_of_a_long_emitter(still_world):
    _, long = still_world(length_mm=2400.0)
    _, drained = still_world(length_mm=2400.0, half_drained=1)

    # (1.2 m / 2.4 m)^0.7
    assert long.lift[0, 0] / drained.lift[0, 0] == pytest.approx(0.5**0.7)


def test_predosing_softens_by_the_planted_share(still_world):
    _, dosed = still_world(consolidated_kg=1.0, loose_kg=0.0, predose_days=6)

    # 38 % at the most, 63.2 % of it after six days, label dose
    assert dosed.loose[0, 0] == pytest.approx(0.38 * (1 - np.exp(-1)), rel=1e-9)


def test_a_fuller_magnet_catches_less(still_world):
    world, state = still_world()
    caught = []
    for load_kg in (0.0, 0.4, 0.7):
        state.carried[:], state.magnet[:] = 0.0, 0.0
        state.carried[0, 0], state.magnet[0, 0] = 0.1, load_kg
        flush.catch(state, world)
        caught.append(state.magnet[0, 0] - load_kg)

    assert caught[0] > caught[1] > caught[2] > 0


def test_where_practices_do_nothing_method_heat_and_dose_leave_the_rates_alone(still_world):
    _, plain = still_world(practice_effect=0.0)
    world, worked = still_world(practice_effect=0.0, agitation=3, predose_days=14, dose_ratio=2.0)
    minutes_of_release(world, worked, 1, 70.0)

    assert worked.lift[0, 0] == plain.lift[0, 0]
    assert worked.loosen[0, 0] == plain.loosen[0, 0]
    assert worked.consolidated[0, 0] == pytest.approx(plain.consolidated[0, 0] * np.exp(-plain.loosen[0, 0]))


def test_a_bypass_starves_the_emitter(still_world):
    _, two_pipe = still_world()
    _, one_pipe = still_world(bypass_kv=4.0)

    assert one_pipe.branch_l_min[0, 0] < 0.5 * two_pipe.branch_l_min[0, 0]
    assert one_pipe.clear_flow_l_min[0] > two_pipe.clear_flow_l_min[0]


def test_a_narrow_joint_throttles_the_flow(still_world):
    _, wide = still_world(connection_kv=6.0)
    _, narrow = still_world(connection_kv=0.35)

    assert narrow.clear_flow_l_min[0] < 0.5 * wide.clear_flow_l_min[0]
