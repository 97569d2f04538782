"""What goes in comes out: mass by emitter, heat by minute."""

import numpy as np
import pytest

from synthetic_data import flush
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks
from synthetic_data.truth import truth_rows


def test_magnetite_is_conserved_emitter_by_emitter(chunk):
    f, end = chunk.fouling, chunk.flush.end
    before = f.loose_kg + f.consolidated_kg
    after = end.loose + end.consolidated + end.carried + end.magnet + end.strainer
    after = after + end.caught + end.strainer_caught + end.rinsed

    assert np.abs(before - after).max() < 1e-9


def test_other_debris_is_conserved_emitter_by_emitter(chunk):
    end = chunk.flush.end
    after = end.sand + end.sand_carried + end.sand_trap + end.sand_caught + end.sand_rinsed

    assert np.abs(chunk.fouling.sand_kg - after).max() < 1e-9


@pytest.mark.parametrize("scenario", sorted(SCENARIOS))
def test_the_truth_file_adds_up_in_every_scenario(scenario):
    truth = truth_rows(next(simulate_chunks(SCENARIOS[scenario], jobs=40, seed=2))).to_pandas()
    before = truth.loose_before_kg + truth.consolidated_before_kg
    after = truth[["caught_kg", "strainer_kg", "trapped_unweighed_kg", "rinsed_kg", "residual_kg"]].sum(axis=1)

    assert (before - after).abs().max() < 1e-9


def test_the_weighings_of_a_job_add_up_to_what_the_magnet_caught(chunk):
    w = chunk.flush.weighings
    magnet = w.trap == 0
    weighed = np.bincount(w.row[magnet], weights=w.dry_kg[magnet], minlength=chunk.jobs)

    assert weighed == pytest.approx(chunk.flush.end.caught.sum(axis=1), abs=1e-9)


def test_nothing_is_ever_negative(chunk):
    end = chunk.flush.end
    pools = ("loose", "consolidated", "carried", "magnet", "strainer", "caught", "rinsed", "sand", "sand_carried")

    assert min(getattr(end, name).min() for name in pools) >= 0.0


def test_mixing_moves_heat_and_makes_none(still_world):
    world, state = still_world(heat_kw=0.0)
    j_l_k = flush.WATER_J_L_K * flush.METAL_FACTOR
    held = world.houses.contents_l[0, 0] * j_l_k
    water = j_l_k * (state.circuit_l[0] - world.houses.contents_l[0, 0])
    state.temp_c[:] = 60.0
    before = water * state.temp_c[0] + held * state.emitter_c[0, 0]

    flush.warm(state, world)

    after = water * state.temp_c[0] + held * state.emitter_c[0, 0]
    # one minute: pipes 25 W/K at 60 °C, the emitter 20 W/K at the warmth it had before it lost any; room 18 °C
    cooled = 20.0 * 60.0 / held
    emitter_before_c = (state.emitter_c[0, 0] - 18.0 * cooled) / (1 - cooled)
    lost = 25.0 * 60.0 * (60.0 - 18.0) + 20.0 * 60.0 * (emitter_before_c - 18.0)
    assert before - after == pytest.approx(lost, rel=1e-9)


def test_the_source_heats_no_faster_than_its_power(still_world):
    world, state = still_world(heat_kw=9.0)
    capacity_j_k = flush.WATER_J_L_K * flush.METAL_FACTOR * state.circuit_l
    start = state.temp_c.copy()

    flush.warm(state, world)

    assert 0 < ((state.temp_c - start) * capacity_j_k)[0] <= 9000 * 60
