"""Heat during a flush: conserved, limited by the source, lost by EN 442."""

import numpy as np
import pytest

from models.physics.heat import equilibrium_excess_k
from synthetic_data.flush import flush
from synthetic_data.flush.world import PIPE_METAL_FACTOR, WATER_J_L_K


def capacities_j_k(world, state):
    """Water of the circuit with the metal round it, and every emitter."""
    contents = world.houses.contents_l[0][state.open_now[0]].sum()
    return WATER_J_L_K * PIPE_METAL_FACTOR * (state.circuit_l[0] - contents), state.emitter_j_k[0]


def held_j(world, state):
    water, emitters = capacities_j_k(world, state)
    present = world.houses.present[0]
    return water * state.temp_c[0] + (emitters * state.emitter_c[0])[present].sum()


def run(world, state, minutes):
    for minute in range(1, minutes + 1):
        flush.refresh(state, world, minute)
        flush.warm(state, world, minute)
    return state


def test_mixing_moves_heat_and_makes_none(still_world):
    world, state = still_world(emitters=3, isolation=2, start_c=50.0, numbers={"flush__pipe_loss_w_k": 0.0})
    state.rated_w[:] = 0.0
    state.temp_c[:] = 60.0
    before = held_j(world, state)

    run(world, state, 30)

    assert held_j(world, state) == pytest.approx(before, rel=1e-12)
    assert np.ptp(state.emitter_c[0, :3]) < 0.1


def test_what_the_pipes_and_emitters_lose_is_what_the_system_loses(still_world):
    world, state = still_world(start_c=50.0)
    before, temp_c, emitter_c = held_j(world, state), state.temp_c[0], state.emitter_c[0, 0]

    flush.warm(state, world, 1)

    # EN 442 written out: 1 kW at 50 K, power 1.3; pipes 25 W/K; room 18 °C
    lost = 60.0 * (25.0 * (temp_c - 18.0) + 1000.0 * ((emitter_c - 18.0) / 50.0) ** 1.3)
    assert before - held_j(world, state) == pytest.approx(lost, rel=1e-9)


def test_the_source_heats_no_faster_than_its_power(still_world):
    world, state = still_world(heat_source=1, start_c=18.0, numbers={"flush__boiler_flush_kw": 9.0})
    before = held_j(world, state)

    flush.warm(state, world, 1)

    assert held_j(world, state) - before == pytest.approx(9000.0 * 60.0, rel=1e-9)


def test_a_small_heater_cannot_hold_sixty_degrees_with_everything_open(still_world):
    # twelve emitters of 1 kW in a room of 20 °C: 3 kW hold an excess of 17.2 K (arithmetic from EN 442)
    numbers = {"flush__pipe_loss_w_k": 0.0, "flush__room_c": 20.0}
    world, state = still_world(emitters=12, isolation=2, heat_source=2, heater_kw=3.0, start_c=20.0, numbers=numbers)
    run(world, state, 900)

    assert state.emitter_c[0, :12].mean() - 20.0 == pytest.approx(17.2, abs=0.1)
    assert equilibrium_excess_k(3000.0, 12000.0) == pytest.approx(17.2, abs=0.05)
    assert state.temp_c[0] < 45.0


def test_the_same_heater_holds_sixty_degrees_with_one_emitter_open(still_world):
    world, state = still_world(emitters=12, isolation=0, heat_source=2, heater_kw=3.0, start_c=20.0)
    run(world, state, 180)

    assert state.temp_c[0] == pytest.approx(60.0, abs=0.5)


def test_warming_up_takes_as_long_as_the_closed_form_says(still_world):
    # no emitter loss but the pipes' 25 W/K: t = -(C/UA) ln[(P - UA (T1 - Ta)) / (P - UA (T0 - Ta))]
    world, state = still_world(heat_source=2, heater_kw=3.0, start_c=18.0, machine_l_min=60.0)
    state.rated_w[:] = 0.0
    water, emitters = capacities_j_k(world, state)
    capacity = water + emitters[0]
    expected = -capacity / 25.0 * np.log((3000.0 - 25.0 * 32.0) / 3000.0) / 60.0
    minute = 0
    while state.temp_c[0] < 50.0:
        minute += 1
        flush.refresh(state, world, minute)
        flush.warm(state, world, minute)

    assert minute == pytest.approx(expected, abs=1.5)


def test_the_return_is_cooler_than_the_flow_by_what_the_emitters_take(still_world):
    world, state = still_world(heat_source=1, start_c=20.0)
    flush.warm(state, world, 1)
    taken_w = (state.shared_j_k * (state.temp_c[:, None] - state.emitter_c)).sum() / 60.0

    assert 0.0 < taken_w
    assert state.return_c[0] < state.temp_c[0]
