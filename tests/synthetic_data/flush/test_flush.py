"""Plant a mechanism, find it again: one emitter, flushed for some minutes under known conditions."""

import numpy as np
import pytest

from synthetic_data.flush import flush
from synthetic_data.flush.release import FINE, FLAKE, MEDIUM, OTHER, class_shares, thresholds_pa
from synthetic_data.flush.world import LOOSENED_SHARES, softened_share
from synthetic_data.parameters import ReleaseParameters


def minutes_of_release(world, state, minutes, temp_c=50.0):
    """Carry on releasing at a fixed temperature, with everything carried away at once."""
    for _ in range(minutes):
        state.emitter_c[:] = temp_c
        flush.release(state, world)
        state.water[:] = 0.0
    return state


def mean_lift(state):
    """Share of fresh loose sludge that is lifted in the first minute."""
    return float(state.lift[0, :, 0] @ class_shares(ReleaseParameters()))


def test_thresholds_are_soulsbys_for_clean_grains_times_cohesion():
    # Soulsby 1997 eq. 75 and 77, magnetite of 5180 kg/m³ in water of 20 °C: 50 µm 0.205 Pa, 500 µm 0.613 Pa
    p = ReleaseParameters(fine_um=10.0, medium_um=50.0, flake_um=500.0, cohesion=1.0)

    assert thresholds_pa(20.0, p)[:OTHER] == pytest.approx([0.087, 0.205, 0.613], rel=0.01)
    assert thresholds_pa(20.0, ReleaseParameters(cohesion=2.0)) == pytest.approx(
        2.0 * thresholds_pa(20.0, ReleaseParameters(cohesion=1.0))
    )


def test_loose_debris_of_each_class_leaves_by_its_own_rate(still_world):
    world, state = still_world(consolidated_kg=0.0, loose_kg=1.0)
    start, share = state.bed[0, :, 0].copy(), state.lift[0, :, 0].copy()

    minutes_of_release(world, state, 20)

    assert state.bed[0, :, 0] == pytest.approx(start * (1.0 - share) ** 20, rel=1e-9)
    assert share[FINE] > share[MEDIUM] > share[FLAKE] > 0.0


def test_consolidated_debris_softens_by_the_planted_rate(still_world):
    world, state = still_world(consolidated_kg=1.0, loose_kg=0.0)
    rate = float(state.loosen[0, 0])
    minutes_of_release(world, state, 60)

    # first order; the step is exact to third order in a rate under 0.02 a minute
    assert rate < 0.02
    assert state.consolidated[0, 0] == pytest.approx(np.exp(-60 * rate), rel=1e-6)


def test_what_comes_loose_is_shared_among_the_classes(still_world):
    world, state = still_world(consolidated_kg=1.0, loose_kg=0.0)
    state.lift[:] = 0.0
    flush.release(state, world)

    gained = state.bed[0, :OTHER, 0]
    assert gained / gained.sum() == pytest.approx(LOOSENED_SHARES)


@pytest.mark.parametrize("temp_c", [20.0, 35.0, 65.0])
def test_heat_changes_softening_by_the_planted_activation_energy(still_world, temp_c):
    world, state = still_world(consolidated_kg=1.0, loose_kg=0.0)
    rate_at_50 = float(state.loosen[0, 0])
    minutes_of_release(world, state, 1, temp_c)

    found = -np.log(state.consolidated[0, 0]) / rate_at_50
    # Arrhenius, written out: 32 kJ/mol, R = 8.314 J/(mol K), 50 °C = 323.15 K
    assert found == pytest.approx(np.exp(32_000 / 8.314462618 * (1 / 323.15 - 1 / (temp_c + 273.15))), rel=1e-5)


def test_more_flow_lifts_more_and_flakes_above_proportion(still_world):
    slow, fast = (still_world(machine_l_min=l_min)[1] for l_min in (8.0, 40.0))
    ratio = fast.clear_flow_l_min[0] / slow.clear_flow_l_min[0]

    assert ratio > 1.5
    assert mean_lift(fast) > mean_lift(slow)
    fast_rate, slow_rate = (-np.log1p(-state.lift[0, FLAKE, 0]) for state in (fast, slow))
    assert fast_rate > 1.05 * ratio * slow_rate


def test_double_panels_share_the_flow_and_give_up_less(still_world):
    single, double = (still_world(kind=kind)[1] for kind in ("panel_11", "panel_22"))

    assert mean_lift(double) < 0.85 * mean_lift(single)


def test_agitation_adds_bursts(still_world):
    plain, shaken, both = (still_world(agitation=kind)[1] for kind in (0, 2, 3))

    assert mean_lift(plain) < mean_lift(shaken) < mean_lift(both)
    # a burst reaches the flakes most, which the mean flow leaves
    assert shaken.lift[0, FLAKE, 0] / plain.lift[0, FLAKE, 0] > shaken.lift[0, FINE, 0] / plain.lift[0, FINE, 0]


def test_half_draining_forces_the_flow_along_the_bottom_of_a_long_emitter(still_world):
    gains = []
    for length_mm in (600.0, 2400.0):
        full, drained = (still_world(length_mm=length_mm, half_drained=n)[1] for n in (0, 1))
        gains.append(mean_lift(drained) / mean_lift(full))

    assert gains[1] > gains[0]
    assert gains[1] > 1.1


def test_heat_works_through_softening_and_hardly_through_lift(still_world):
    # small grains move at a smaller stress in warm water, but warm water puts less of it on the wall
    cold, warm = (still_world(start_c=c)[1] for c in (20.0, 60.0))

    assert mean_lift(warm) == pytest.approx(mean_lift(cold), rel=0.05)
    assert warm.band[0] > cold.band[0]


def test_predosing_softens_by_the_law_of_the_flush_without_flow():
    # rate 0.006/min × 0.02 at 50 °C for 8 h a day and at 20 °C for 16 h, chemical used up in 6 days by a factor e
    p = ReleaseParameters()
    cold = np.exp(32_000 / 8.314462618 * (1 / 323.15 - 1 / 293.15))
    per_day = 0.006 * 0.02 * 1440 * (8 + 16 * cold) / 24
    expected = 1 - np.exp(-per_day * 6 * (1 - np.exp(-10 / 6)))

    assert softened_share(np.array([10]), 8.0, 50.0, 1.0, p)[0] == pytest.approx(expected, rel=1e-6)
    hours = softened_share(np.array([10]), np.array([0.0, 4.0, 12.0]), 50.0, 1.0, p)
    assert (np.diff(hours) > 0).all()


def test_predosed_debris_is_moved_from_baked_on_to_loose(still_world):
    _, dosed = still_world(consolidated_kg=1.0, loose_kg=0.0, predose_days=7)

    assert 0.2 < dosed.loose[0, 0] < 0.6
    assert dosed.loose[0, 0] + dosed.consolidated[0, 0] == pytest.approx(1.0)


def test_two_speeds_leave_a_slow_part_behind(still_world):
    _, usual = still_world()
    numbers = {"release__two_speeds": 0.5}
    world, slow = still_world(loose_kg=1.0, consolidated_kg=0.0, numbers=numbers)

    assert slow.bed[0, FLAKE, 0] == pytest.approx(0.5 + 0.5 * usual.bed[0, FLAKE, 0] / usual.loose[0, 0])
    minutes_of_release(world, slow, 60)
    assert slow.bed[0, FLAKE, 0] > 10 * slow.bed[0, MEDIUM, 0]


def test_where_practices_do_nothing_method_heat_and_dose_leave_the_rates_alone(still_world):
    null = {"flush__practice_effect": 0.0}
    _, plain = still_world(numbers=null)
    world, worked = still_world(numbers=null, agitation=3, predose_days=14, dose_ratio=2.0, half_drained=1)
    assert worked.lift[0, :, 0] == pytest.approx(plain.lift[0, :, 0])
    assert worked.consolidated[0, 0] == plain.consolidated[0, 0]

    minutes_of_release(world, worked, 1, 70.0)
    assert worked.consolidated[0, 0] == pytest.approx(plain.consolidated[0, 0] * np.exp(-plain.loosen[0, 0]), rel=1e-6)
