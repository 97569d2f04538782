"""Friction, valves and the solved flow against worked examples of the textbooks."""

import numpy as np
import pytest

from models.physics import pipes
from models.physics.friction import friction_factor
from models.physics.hydraulics import TwoPipe, solve_alone
from models.physics.losses import CV_PER_KV, K_EXIT, LossLaw, Tube, equivalent_diameters, k_from_kv
from models.physics.machine import Machine
from models.physics.water import density_kg_m3, viscosity_pa_s

FOOT_M, INCH_MM = 0.3048, 25.4
GRAVITY_M_S2 = 9.80665


def loss_pa(tube: Tube, flow_l_min: float, density: float, viscosity: float) -> float:
    return float(LossLaw.of(tube).loss(np.array([flow_l_min]), np.array(density), np.array(viscosity))[0][0])


def litres_a_minute(velocity_m_s: float, bore_mm: float) -> float:
    return float(60 * velocity_m_s * pipes.contents_l_m(bore_mm))


def test_moodys_own_example_loses_four_and_a_half_feet():
    # White, Fluid Mechanics, Example 6.6 (4th/5th ed.), after Moody 1944: 200 ft of 6 in pipe, e/D 0.0008, 6 ft/s,
    # 1.1e-5 ft²/s: f about 0.02, 4.5 ft, 280 lbf/ft² (chart read)
    bore_mm, density = 6 * INCH_MM, 62.4 * 16.01846
    tube = Tube.of([200 * FOOT_M], bore_mm, roughness_mm=0.0008 * bore_mm)
    lost_pa = loss_pa(tube, litres_a_minute(6 * FOOT_M, bore_mm), density, 1.1e-5 * FOOT_M**2 * density)

    assert friction_factor(6 * 0.5 / 1.1e-5, 0.0008) == pytest.approx(0.0198, abs=1e-4)
    assert lost_pa / (density * GRAVITY_M_S2 * FOOT_M) == pytest.approx(4.5, rel=0.02)
    assert lost_pa / 47.8803 == pytest.approx(280, rel=0.02)


def test_the_inverse_finds_six_feet_a_second():
    # White, the same pipe the other way round: 4.5 ft → 6.05 ft/s. Water of 1.1e-5 ft²/s is at 19 °C.
    temps = np.linspace(10.0, 30.0, 2001)
    nu = viscosity_pa_s(temps) / density_kg_m3(temps)
    temp_c = float(np.interp(-1.1e-5 * FOOT_M**2, -nu, temps))
    bore_mm = 6 * INCH_MM
    pipe = Tube.of(np.full((1, 1), 200 * FOOT_M), bore_mm, roughness_mm=0.0008 * bore_mm)
    head_pa = float(density_kg_m3(temp_c)) * GRAVITY_M_S2 * 4.5 * FOOT_M
    stiff = Machine(np.array([head_pa]), np.zeros(1), np.ones(1))
    flow = solve_alone(TwoPipe.of([], Tube.of(np.zeros((1, 1)), bore_mm), pipe), stiff, np.array([0]), temp_c)

    assert pipes.velocity_m_s(flow, bore_mm)[0] / FOOT_M == pytest.approx(6.05, rel=0.002)


def test_the_oil_line_loses_117_metres():
    # White, Example 6.7: rho 900, nu 1e-5, 0.2 m³/s, 500 m of 200 mm, e 0.26 mm: f 0.0225, hf 117 m; dp 265 kPa with a
    # fall of 10° (hf and dp from memory)
    lost_pa = loss_pa(Tube.of([500.0], 200.0, roughness_mm=0.26), 12_000.0, 900.0, 0.009)

    assert friction_factor(127_324, 0.0013) == pytest.approx(0.0225, rel=0.02)
    assert lost_pa / (900 * GRAVITY_M_S2) == pytest.approx(117, rel=0.01)
    fallen_pa = 900 * GRAVITY_M_S2 * 500 * np.sin(np.radians(10))
    assert (lost_pa - fallen_pa) / 1000 == pytest.approx(265, rel=0.02)


def test_the_stainless_tube_takes_two_kilowatts_of_pumping():
    # Cengel & Cimbala, pipe-flow problem (answers from memory): 999.1 kg/m³, 1.138e-3 Pa s, 40 mm, 8 L/s, e 0.002 mm,
    # 30 m: f 0.0157, 24.4 m, 1.91 kW
    lost_pa = loss_pa(Tube.of([30.0], 40.0, roughness_mm=0.002), 480.0, 999.1, 1.138e-3)

    assert friction_factor(223_567, 5e-5) == pytest.approx(0.0157, abs=5e-5)
    assert lost_pa / (999.1 * GRAVITY_M_S2) == pytest.approx(24.4, rel=0.005)
    assert lost_pa * 0.008 / 1000 == pytest.approx(1.91, rel=0.005)


def test_air_through_a_thin_tube_loses_a_kilopascal():
    # Munson et al., Example 8.5 (from memory): air 1.23 kg/m³, 1.79e-5 Pa s, 50 m/s, 4 mm, 0.1 m, e 0.0015 mm:
    # 1.076 kPa with f 0.028 read from the chart; were it laminar, 0.179 kPa
    tube, flow = Tube.of([0.1], 4.0, roughness_mm=0.0015), litres_a_minute(50.0, 4.0)

    assert loss_pa(tube, flow, 1.23, 1.79e-5) / 1000 == pytest.approx(1.076, rel=0.05)
    # the laminar law, at a tenth of that flow, where it holds: 0.0179 kPa
    assert loss_pa(tube, flow / 10, 1.23, 1.79e-5) / 1000 == pytest.approx(0.0179, rel=0.002)


def test_smooth_plastic_of_crane_has_its_reynolds_number_and_factor():
    # Crane TP-410M, Example 7.1, by way of the open `fluids` notebooks: 30 °C, 200 L/min, bore 52.5 mm:
    # Re 100 600, f 0.0179
    reynolds = pipes.reynolds(200.0, 52.5, 30.0)

    assert reynolds == pytest.approx(100_600, rel=0.01)
    assert friction_factor(reynolds, 0.0) == pytest.approx(0.0179, rel=0.01)


def test_a_valve_of_kv_500_is_37_metres_of_pipe():
    # Crane TP-410M, Example 7.2: bore 154 mm, f_T 0.015: K 3.6, L/D 240, 37.0 m
    k = k_from_kv(500.0, 154.0)

    assert k == pytest.approx(3.6, rel=0.001)
    assert equivalent_diameters(k, 0.015) == pytest.approx(240, rel=0.001)
    # 36.93 m: Crane rounds the constant of K = 1.6e9 d⁴ / Kv² up by 0.07 %, and the length to 37.0
    assert equivalent_diameters(k, 0.015) * 0.154 == pytest.approx(37.0, rel=0.002)
    assert k == pytest.approx(1.6e9 * 0.154**4 / 500**2, rel=0.001)


def test_the_heating_coil_loses_twenty_kilopascals():
    # Crane TP-410M, Example 7.11 (19 609 Pa; the open notebook with f 0.024 has 18 539): 80 °C, 60 L/min, 25 mm
    # schedule 40 (26.64 mm), 8 + 1 m, seven bends of 180°, r/d 4. K of a bend by Crane's rule, f_T 0.022 (from memory).
    quarter = 14 * 0.022
    bend = 0.25 * np.pi * 0.022 * 4 + 0.5 * quarter + quarter
    coil = Tube.of([9.0], 26.64, 7 * bend, roughness_mm=0.05)

    lost_pa = loss_pa(coil, 60.0, float(density_kg_m3(80.0)), float(viscosity_pa_s(80.0)))

    assert lost_pa == pytest.approx(19_609, rel=0.10)


def test_static_head_is_most_of_cranes_riser():
    # Crane TP-410, Example 7.14: water 15 °C, 1500 L/min, 22 m up; 34 m of 4 in (102.26 mm) and 67 m of 5 in (128.2 mm)
    # schedule 40, two bends and an enlargement: 2.6 bar. The SI edition forgot the static head.
    rough_mm = 0.0018 * INCH_MM
    narrow = Tube.of([34.0], 102.26, 14 * 0.017 + 0.09, roughness_mm=rough_mm)
    wide = Tube.of([67.0], 128.2, 14 * 0.016, roughness_mm=rough_mm)
    density, viscosity = float(density_kg_m3(15.0)), float(viscosity_pa_s(15.0))
    moving_bar = sum(loss_pa(tube, 1500.0, density, viscosity) for tube in (narrow, wide)) / 1e5

    assert moving_bar + density * GRAVITY_M_S2 * 22 / 1e5 == pytest.approx(2.6, rel=0.02)
    assert moving_bar < 0.25 * 2.6


def test_half_a_cubic_metre_an_hour_through_kv_08_loses_039_bar():
    # IEC 60534-2-1: dp = (q / Kv)²; 0.5 m³/h through Kv 0.8 is 0.3906 bar
    assert pipes.kv_resistance(0.8) * (0.5 * 1000 / 60) ** 2 / 1e5 == pytest.approx(0.390625, rel=1e-9)


def test_kv_and_cv_convert_by_the_gallon_and_the_pound():
    # IEC 60534-2-1: Cv = 1.1561 Kv, Kv = 0.86498 Cv. One US gallon a minute is 0.2271247 m³/h, one psi 0.0689476 bar
    from_units = np.sqrt(0.0689476) / 0.2271247

    assert pytest.approx(1.1561, abs=5e-5) == CV_PER_KV
    assert 1 / CV_PER_KV == pytest.approx(0.86498, abs=5e-6)
    assert pytest.approx(from_units, rel=1e-4) == CV_PER_KV


def test_a_sharp_exit_loses_one_velocity_head():
    # Borda–Carnot: all of rho v² / 2
    head = 0.5 * 998.2 * 1.0**2

    assert loss_pa(Tube.of([0.0], 13.6, K_EXIT), litres_a_minute(1.0, 13.6), 998.2, 1e-3) == pytest.approx(head)
