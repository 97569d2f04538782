"""Warming energy and heat-up time against exact enthalpies and closed forms."""

import pytest

from models.physics import heat, water


# V · rho · (h2 − h1) with IAPWS-IF97 enthalpies: kWh for 10→60, 15→55, 20→60, 20→70 °C
@pytest.mark.parametrize(
    ("litres", "kwh"),
    [(50, (2.903, 2.321, 2.318, 2.898)), (100, (5.807, 4.641, 4.636, 5.797)), (150, (8.710, 6.962, 6.954, 8.695)),
     (200, (11.613, 9.282, 9.273, 11.594))],
)  # fmt: skip
def test_warming_energy_is_that_of_the_steam_tables(litres, kwh):
    computed = [water.warming_energy_kwh(litres, low, high) for low, high in ((10, 60), (15, 55), (20, 60), (20, 70))]

    assert computed == pytest.approx(kwh, abs=0.0015)


def test_the_simple_rule_lies_within_half_a_percent():
    # V × 4.186 × dT / 3600 for 100 L and 50 K: 5.814 kWh
    assert water.warming_energy_kwh(100.0, 10.0, 60.0) == pytest.approx(5.814, rel=0.005)


def test_three_hundred_kilograms_of_steel_take_two_kilowatt_hours():
    # 300 kg at 0.49 kJ/(kg K), 50 K: 2.04 kWh
    assert heat.steel_energy_kwh(300.0, 50.0) == pytest.approx(2.04, abs=0.005)


# t = −(C/UA) ln[(P − UA (T1 − Ta)) / (P − UA (T0 − Ta))]; C 565 kJ/K, UA 100 W/K, 15 → 60 °C, room 20 °C
@pytest.mark.parametrize(("watt", "with_loss", "without"), [(6000, 111, 71), (9000, 60, 47)])
def test_heat_up_takes_the_minutes_of_the_closed_form(watt, with_loss, without):
    assert heat.heat_up_minutes(565.0, 100.0, watt, 15.0, 60.0, 20.0) == pytest.approx(with_loss, abs=0.6)
    assert heat.heat_up_minutes(565.0, 0.0, watt, 15.0, 60.0, 20.0) == pytest.approx(without, abs=0.6)


@pytest.mark.parametrize(("kw", "excess_k"), [(2.75, 16.1), (3, 17.2), (6, 29.3), (9, 40.1)])
def test_a_small_heater_holds_only_a_floor_under_twelve_kilowatts_of_emitters(kw, excess_k):
    # EN 442 law: 12 kW at 50 K balances at 50 · (P / 12)^(1/1.3)
    from models.physics.emitters import output_ratio

    assert 12.0 * output_ratio(excess_k) == pytest.approx(kw, rel=0.01)
