import numpy as np
import pytest

from models.physics import corrosion, oxygen


def test_hot_water_holds_less_and_the_two_laws_nearly_meet():
    temp = np.linspace(0.0, 99.0, 199)
    saturation = oxygen.oxygen_solubility_mg_l(temp)
    step = oxygen.oxygen_solubility_mg_l(40.0001) / oxygen.oxygen_solubility_mg_l(40.0)

    assert np.all(np.diff(saturation[temp <= 40]) < 0)
    assert np.all(np.diff(saturation[temp > 40]) < 0)
    assert step == pytest.approx(1.011, abs=0.001)


@pytest.mark.parametrize("temp_c", [10.0, 70.0])
def test_oxygen_follows_the_pressure_of_the_dry_air(temp_c):
    vapour = oxygen.vapour_pressure_pa(temp_c)
    doubled = oxygen.ATMOSPHERE_PA + (oxygen.ATMOSPHERE_PA - vapour)

    assert oxygen.oxygen_solubility_mg_l(temp_c, doubled) == pytest.approx(2 * oxygen.oxygen_solubility_mg_l(temp_c))


def test_oxygen_outside_liquid_water_is_refused():
    with pytest.raises(ValueError, match="0\\.\\.99"):
        oxygen.oxygen_solubility_mg_l(120.0)


def test_pumping_over_saturates_the_share_taken_up():
    # 0.2 L/min for 100 h = 1200 L, half saturated at 20 °C with 9.092 mg/L
    assert oxygen.pumping_over_oxygen_g(0.2, 100.0, 20.0, 0.5) == pytest.approx(5.455, abs=0.003)


def test_plastic_follows_both_barrier_limits():
    assert oxygen.plastic_temperature_factor([40.0, 80.0]) == pytest.approx([1.0, 3.6 / 0.32])


def test_a_barrier_lets_a_fiftieth_through():
    open_g = oxygen.plastic_oxygen_g(11.3, 200.0)

    assert oxygen.plastic_oxygen_g(11.3, 200.0, rate_g_m3_day=oxygen.BARRIER_G_M3_DAY) == pytest.approx(open_g / 50)


def test_routes_add_up():
    routes = oxygen.OxygenRoutes(*(np.array([value]) for value in (1.0, 2.0, 3.0, 4.0)))

    assert routes.total_g.tolist() == [10.0]


def test_yields_are_inverse_to_the_oxygen_needed():
    share = np.array([0.0, 0.4, 1.0])

    assert corrosion.oxygen_for_magnetite_g(corrosion.magnetite_from_oxygen_g(7.0, share), share) == pytest.approx(
        np.full(3, 7.0)
    )


def test_loss_and_magnetite_are_inverse():
    assert corrosion.loss_um_from_magnetite(corrosion.magnetite_from_loss_g(40.0, 12.0), 40.0) == pytest.approx(12.0)
