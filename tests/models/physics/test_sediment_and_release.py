import numpy as np
import pytest
from fluids import v_terminal

from models.physics import emitters, release, sediment
from models.physics.water import density_kg_m3

WATER = (5180.0, 992.2, 0.66e-6)


def test_bigger_grains_need_more_shear_and_fall_faster():
    sizes = np.geomspace(0.001, 10.0, 200)

    assert np.all(np.diff(sediment.critical_shear_pa(sizes, *WATER)) > 0)
    assert np.all(np.diff(sediment.settling_velocity_m_s(sizes, *WATER)) > 0)


def test_the_shields_parameter_at_the_threshold_is_the_critical_one():
    star = sediment.dimensionless_size(0.3, *WATER)
    shear = sediment.critical_shear_pa(0.3, *WATER)

    assert sediment.shields_parameter(shear, 0.3, *WATER[:2]) == pytest.approx(sediment.critical_shields(star))


def test_largest_moved_grain_is_the_inverse_of_the_critical_shear():
    shear = np.geomspace(0.01, 20.0, 300)
    largest = sediment.largest_moved_mm(shear, *WATER)

    assert sediment.critical_shear_pa(largest, *WATER) == pytest.approx(shear, rel=1e-5)
    assert sediment.largest_moved_mm(0.0, *WATER) == 0


def test_fine_grains_fall_as_stokes_says_and_coarse_ones_slower_than_spheres():
    fine = sediment.settling_velocity_m_s(0.005, *WATER)
    stokes = 9.81 * (WATER[0] - WATER[1]) * (5e-6) ** 2 / (18 * WATER[1] * WATER[2])
    sphere = [v_terminal(D=d / 1000, rhop=WATER[0], rho=WATER[1], mu=WATER[1] * WATER[2]) for d in (0.5, 1.0)]

    assert fine == pytest.approx(stokes, rel=0.1)
    assert np.all(sediment.settling_velocity_m_s([0.5, 1.0], *WATER) < sphere)


def test_half_of_the_debris_moves_at_the_threshold_of_its_median():
    temp = 40.0
    shear = sediment.critical_shear_pa(0.08, 5180.0, density_kg_m3(temp), sediment.water_m2_s(temp))
    share = sediment.movable_share([0.0, 0.5 * shear, shear, 3 * shear], 0.08, 0.9, 5180.0, temp)

    assert share[0] == 0
    assert share[2] == pytest.approx(0.5, abs=1e-4)
    assert np.all(np.diff(share) > 0)


@pytest.mark.parametrize("shear", [0.001, 0.05, 1.0, 20.0])
def test_velocity_for_a_shear_puts_that_shear_on_the_wall(shear):
    velocity = sediment.velocity_for_shear_m_s(shear, [6.8, 13.6, 26.2], 50.0)

    assert sediment.wall_shear_pa(velocity, [6.8, 13.6, 26.2], 50.0) == pytest.approx(np.full(3, shear), rel=1e-6)


def test_standing_water_rubs_on_nothing():
    assert sediment.wall_shear_pa(0.0, 13.6, 50.0) == 0


def test_water_along_the_bottom_is_weakest_in_the_middle_of_long_emitters():
    along = emitters.bottom_header_share(np.linspace(0, 1, 11), 1800.0)

    assert along[[0, 10]] == pytest.approx([1.0, 1.0])
    assert np.argmin(along) == 5
    assert np.all(along >= 0.5)
    assert along[5] < emitters.bottom_header_share(0.5, 600.0)


def test_bottom_header_solves_the_two_headers_it_was_derived_from():
    # b'' = k² (b − q/2), with the whole flow at both ends
    place, length_m, k = np.linspace(0, 1, 2001), 1.6, emitters.HEADER_EXCHANGE_PER_M
    share = emitters.bottom_header_share(place, 1600.0)
    bend = np.gradient(np.gradient(share, place * length_m), place * length_m)

    assert bend[5:-5] == pytest.approx(k**2 * (share[5:-5] - 0.5), rel=1e-3)


def test_half_draining_sends_the_whole_flow_along_the_bottom():
    full = emitters.bottom_header_velocity_m_s(12.0, 2, 1600.0)
    half = emitters.bottom_header_velocity_m_s(12.0, 2, 1600.0, half_drained=True)

    # 12 L/min over two headers of 450 mm²
    assert half == pytest.approx(12 / 60_000 / 900e-6)
    assert 1.3 < half / full < 2


def test_ten_kelvin_more_speed_up_by_arrhenius():
    assert release.temperature_factor(50.0, 40.0) == 1
    assert release.temperature_factor(60.0, 0.0) == 1
    assert np.log(release.temperature_factor(60.0, 40.0)) == pytest.approx(
        40_000 / 8.314462618 * (1 / 323.15 - 1 / 333.15)
    )


def test_no_cleaner_no_help_and_half_the_dose_more_than_half():
    none, half, full = release.chemical_factor([0.0, 0.5, 1.0], 3.0) - 1

    assert none == 0
    assert full == pytest.approx(3.0)
    assert half > full / 2


def test_nothing_is_lifted_below_the_threshold():
    rate = release.excess_shear_rate_per_min([0.0, 0.99, 1.0, 2.0, 3.0], 1.0, 0.2, 1.5)

    assert rate[:3].tolist() == [0, 0, 0]
    assert rate[3:] == pytest.approx([0.2, 0.2 * 2**1.5])


def test_bursts_lift_where_the_calm_flow_cannot():
    burst = release.excess_shear_rate_per_min(2.0, 1.0, 0.2)

    assert release.burst_rate_per_min(0.0, burst, 0.1) == pytest.approx(0.02)


def test_debris_settles_at_its_velocity_in_still_water_and_not_above_the_threshold():
    assert release.settling_rate_per_min(0.001, 0.03, [0.0, 0.5, 1.0, 2.0], 1.0) == pytest.approx([2.0, 1.0, 0, 0])


def test_a_pool_in_two_steps_is_a_pool_in_one():
    once = release.share_in_step(0.03, 10.0)
    twice = 1 - (1 - release.share_in_step(0.03, 4.0)) * (1 - release.share_in_step(0.03, 6.0))

    assert twice == pytest.approx(once, rel=1e-12)


def test_old_deposits_are_baked_on_and_new_ones_loose():
    share = release.consolidated_share([0.0, 1e-9, 5.0, 20.0, 2000.0], 0.1)
    ages = np.linspace(0, 5, 100_001)

    assert share[0] == 0
    assert np.all(np.diff(share) > 0)
    assert share[2] == pytest.approx(np.mean(1 - np.exp(-0.1 * ages)), rel=1e-4)
    assert share[4] == pytest.approx(1.0, abs=0.01)


def test_a_full_magnet_takes_the_least():
    assert release.trap_efficiency([0.0, 0.5, 1.0, 2.0], 1.0, 0.8, 0.05) == pytest.approx([0.8, 0.6, 0.04, 0.04])
