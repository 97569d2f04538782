import numpy as np
import pytest

from models.physics import heat, water


def test_water_takes_arrays_of_any_shape():
    temp = np.array([[10.0, 20.0], [60.0, 80.0]])

    assert water.density_kg_m3(temp).shape == (2, 2)
    assert water.viscosity_pa_s(temp)[1, 0] == water.viscosity_pa_s(60.0)


@pytest.mark.parametrize("temp_c", [-0.1, 99.1, 250.0])
def test_water_refuses_temperatures_outside_its_fits(temp_c):
    with pytest.raises(ValueError, match=r"0\.\.99 °C"):
        water.density_kg_m3(temp_c)


def test_heat_content_is_the_integral_of_the_specific_heat():
    temp = np.linspace(10.0, 60.0, 2001)
    summed = np.trapezoid(water.specific_heat_j_kg_k(temp), temp)

    assert water.heat_content_j_kg(60.0) - water.heat_content_j_kg(10.0) == pytest.approx(summed, rel=1e-7)


def test_cooling_gives_back_the_energy_of_warming():
    warmed = water.warming_energy_kwh(100.0, 15.0, 65.0)
    grown_l = 100.0 * water.density_kg_m3(15.0) / water.density_kg_m3(65.0)

    assert water.warming_energy_kwh(grown_l, 65.0, 15.0) == pytest.approx(-warmed, rel=1e-12)


def test_a_heater_too_small_never_gets_there():
    assert heat.heat_up_minutes(500.0, 100.0, 3000.0, 15.0, 60.0, 20.0) == float("inf")


def test_heat_up_agrees_with_small_steps():
    temp, minutes = 15.0, 0.0
    while temp < 60.0:
        temp += (6000.0 - 100.0 * (temp - 20.0)) / 565_000.0 * 6.0
        minutes += 0.1

    assert heat.heat_up_minutes(565.0, 100.0, 6000.0, 15.0, 60.0, 20.0) == pytest.approx(minutes, abs=0.3)


def test_degree_hours_count_nothing_below_the_base():
    # 0 h at 10 °C and 1 h at 40 °C: trapezoid over 0 and 20 K = 10 K·h; then 30 min at 40 °C: 10 K·h
    assert heat.degree_hours([0.0, 60.0, 90.0], [10.0, 40.0, 40.0]) == pytest.approx(20.0)
