"""Warming energy and heat-up time against exact enthalpies and closed forms."""

import pytest

from models.physics import heat, water


# V · rho · (h2 − h1) with IAPWS-IF97 enthalpies: kWh for 10→60, 15→55, 20→60, 20→70 °C
@pytest.mark.parametrize(
    ("litres", "kwh"),
    [
        (50, (2.903, 2.321, 2.318, 2.898)),
        (100, (5.807, 4.641, 4.636, 5.797)),
        (150, (8.710, 6.962, 6.954, 8.695)),
        (200, (11.613, 9.282, 9.273, 11.594)),
    ],
)
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


# EN 442 law: 12 kW of emitters at 50 K balance at 50 · (P / 12)^(1/1.3)
@pytest.mark.parametrize(("kw", "excess_k"), [(2.75, 16.1), (3, 17.2), (6, 29.3), (9, 40.1)])
def test_a_small_heater_holds_only_a_floor_under_twelve_kilowatts_of_emitters(kw, excess_k):
    assert heat.equilibrium_excess_k(kw * 1000, 12_000.0) == pytest.approx(excess_k, abs=0.05)


def test_a_three_kilowatt_heater_cannot_hold_60_c_with_twelve_kilowatts_open():
    # 17.2 K over a house at 20 °C
    loss_w_k = heat.emitter_loss_w(12_000.0, 60.0, 20.0) / 40.0

    assert heat.heat_up_minutes(565.0, loss_w_k, 3000.0, 15.0, 60.0, 20.0) == float("inf")


# 10 → 60 °C, water only, no loss: minutes at 2.75, 3, 6, 9, 12 kW from IAPWS-IF97 energies
@pytest.mark.parametrize(
    ("litres", "minutes"),
    [
        (50, (63, 58, 29, 19, 15)),
        (100, (127, 116, 58, 39, 29)),
        (150, (190, 174, 87, 58, 44)),
        (200, (253, 232, 116, 77, 58)),
    ],
)
def test_minutes_to_sixty_degrees_follow_from_the_energy(litres, minutes):
    capacity_kj_k = water.warming_energy_kwh(litres, 10.0, 60.0) * 3600 / 50
    power_w = [2750.0, 3000.0, 6000.0, 9000.0, 12_000.0]

    assert heat.heat_up_minutes(capacity_kj_k, 0.0, power_w, 10.0, 60.0, 20.0) == pytest.approx(minutes, abs=0.55)


def test_the_metal_adds_a_third_to_the_water():
    # 100 L and 300 kg of steel, 10 → 60 °C: 7.85 kWh, 35 % more than water alone
    water_kwh = water.warming_energy_kwh(100.0, 10.0, 60.0)
    steel_kwh = heat.steel_capacity_kj_k(300.0) * 50 / 3600

    assert water_kwh + steel_kwh == pytest.approx(7.85, abs=0.005)
    assert steel_kwh / water_kwh == pytest.approx(0.35, abs=0.005)


def test_twelve_kilowatts_of_panels_are_some_three_hundred_kilograms_of_steel():
    # 26.3 kg/kW: default of the open Modelica Buildings library
    assert heat.emitter_steel_kg(12_000.0) == pytest.approx(315.6)
