"""Threshold of motion and settling: Soulsby, *Dynamics of Marine Sands* (1997), eq. 75, 77 and 102."""

import pytest

from models.physics import sediment
from models.physics.water import density_kg_m3

SEA = (2650.0, 1027.0, 1.36e-6)


def test_sand_of_a_fifth_of_a_millimetre_moves_at_0176_pascal():
    # the book's worked example (0.176 N/m², from memory): sand in sea water, 1.36e-6 m²/s
    star = sediment.dimensionless_size(0.2, *SEA)

    assert star == pytest.approx(4.0627, abs=1e-4)
    assert sediment.critical_shields(star) == pytest.approx(0.05535, abs=1e-5)
    assert sediment.critical_shear_pa(0.2, *SEA) == pytest.approx(0.1763, abs=1e-4)
    assert (sediment.critical_shear_pa(0.2, *SEA) / 1027) ** 0.5 == pytest.approx(0.01310, abs=1e-5)
    assert sediment.settling_velocity_m_s(0.2, *SEA) == pytest.approx(0.02019, abs=1e-5)


# the same formulae worked outside this code, same fluid
@pytest.mark.parametrize(
    ("size_mm", "shear_pa", "settling_m_s"),
    [
        (0.06, 0.1176, 0.00207),
        (0.1, 0.1424, 0.00566),
        (0.5, 0.2616, 0.0663),
        (1, 0.4806, 0.1142),
        (2, 1.1662, 0.1734),
        (10, 8.801, 0.4019),
    ],
)
def test_other_sizes_of_sand_follow(size_mm, shear_pa, settling_m_s):
    assert sediment.critical_shear_pa(size_mm, *SEA) == pytest.approx(shear_pa, rel=1e-3)
    assert sediment.settling_velocity_m_s(size_mm, *SEA) == pytest.approx(settling_m_s, rel=2e-3)


# magnetite, 5180 kg/m³; settling of smooth spheres by the drag law of the `fluids` package. Soulsby's is for natural
# grains: within 10 % up to 0.1 mm, slower above.
@pytest.mark.parametrize(
    ("temp_c", "size_mm", "shear_pa", "sphere_m_s"),
    [
        (20, 0.01, 0.087, 2.28e-4),
        (20, 0.05, 0.205, 5.52e-3),
        (20, 0.1, 0.255, 1.90e-2),
        (20, 0.5, 0.613, 0.146),
        (20, 1, 1.41, 0.287),
        (60, 0.01, 0.074, 4.91e-4),
        (60, 0.05, 0.146, 1.09e-2),
        (60, 0.1, 0.182, 3.07e-2),
        (60, 0.5, 0.668, 0.191),
        (60, 1, 1.72, 0.331),
    ],
)
def test_magnetite_moves_at_the_tabulated_shear_and_falls_about_as_fast_as_spheres(
    temp_c, size_mm, shear_pa, sphere_m_s
):
    fluid = (density_kg_m3(temp_c), sediment.water_m2_s(temp_c))
    ratio = sediment.settling_velocity_m_s(size_mm, 5180.0, *fluid) / sphere_m_s

    assert sediment.critical_shear_pa(size_mm, 5180.0, *fluid) == pytest.approx(shear_pa, rel=0.007)
    assert (0.9 if size_mm <= 0.1 else 0.6) < ratio < (1.1 if size_mm <= 0.1 else 1.0)


# tau = f rho V² / 8 with Colebrook's f, smooth copper: m/s in 15, 22 and 28 mm tube
@pytest.mark.parametrize(
    ("temp_c", "shear_pa", "velocities"),
    [
        (20, 1.0, (0.48, 0.51, 0.53)),
        (20, 2.0, (0.72, 0.76, 0.79)),
        (20, 4.0, (1.07, 1.13, 1.17)),
        (60, 1.0, (0.54, 0.57, 0.59)),
    ],
)
def test_wall_shear_takes_the_tabulated_velocity(temp_c, shear_pa, velocities):
    computed = sediment.velocity_for_shear_m_s(shear_pa, [13.6, 20.2, 26.2], temp_c)

    assert computed == pytest.approx(velocities, abs=0.0055)


def test_a_metre_a_second_lifts_loose_millimetre_magnetite_from_the_tube():
    # about 1 m/s is the flushing velocity that BSRIA BG 29 is quoted for (second-hand)
    fluid = (density_kg_m3(20.0), sediment.water_m2_s(20.0))

    needed_pa = sediment.critical_shear_pa(1.0, 5180.0, *fluid)

    assert sediment.wall_shear_pa(1.0, [13.6, 20.2, 26.2], 20.0).min() > 2 * needed_pa
