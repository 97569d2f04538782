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


def test_heat_up_takes_whole_arrays():
    minutes = heat.heat_up_minutes(565.0, [0.0, 100.0, 100.0], [6000.0, 6000.0, 3000.0], 15.0, 60.0, 20.0)

    # 565 · 45 / 6 s; 5650 s · ln(6500 / 2000); 3 kW cannot hold 40 K at 100 W/K
    assert minutes == pytest.approx([70.625, 110.990, np.inf], abs=1e-3)


def test_steps_of_any_length_follow_the_closed_form():
    temp, loss = 15.0, np.array([0.0, 100.0])
    minutes = heat.heat_up_minutes(565.0, loss, 6000.0, 15.0, 60.0, 20.0)
    one = heat.lumped_step_c(15.0, 565.0, loss, 6000.0, 20.0, 60 * minutes)
    for _ in range(100):
        temp = heat.lumped_step_c(temp, 565.0, loss, 6000.0, 20.0, 0.6 * minutes)

    assert one == pytest.approx([60.0, 60.0], rel=1e-9)
    assert temp == pytest.approx([60.0, 60.0], rel=1e-9)


def test_a_thermostat_reaches_its_set_point_holds_it_and_never_cools():
    args = (565.0, 100.0, 20.0, 60.0)  # kJ/K, W/K, room °C, seconds
    held = heat.thermostat_power_w(60.0, 60.0, *args, 9000.0)
    warming = heat.thermostat_power_w(59.9, 60.0, *args, 9000.0)

    assert held == pytest.approx(100.0 * 40.0)
    assert heat.lumped_step_c(59.9, 565.0, 100.0, warming, 20.0, 60.0) == pytest.approx(60.0)
    assert heat.thermostat_power_w(20.0, 60.0, *args, 9000.0) == 9000
    assert heat.thermostat_power_w(70.0, 60.0, *args, 9000.0) == 0


def test_emitters_balance_the_heater_at_the_equilibrium():
    excess = heat.equilibrium_excess_k(4000.0, 12_000.0)

    assert heat.emitter_loss_w(12_000.0, 20.0 + excess, 20.0) == pytest.approx(4000.0)


def test_water_cools_in_an_emitter_by_the_heat_it_gives():
    # slow water leaves at the room's temperature; fast water loses UA (Tin − Ta) / (m c)
    slow, fast = heat.outlet_c(60.0, [0.0, 1000.0], 30.0, 20.0)
    given_w = 1000 / 60_000 * water.density_kg_m3(60.0) * water.specific_heat_j_kg_k(60.0) * (60.0 - fast)

    assert slow == pytest.approx(20.0)
    assert given_w == pytest.approx(30.0 * 40.0, rel=1e-3)
