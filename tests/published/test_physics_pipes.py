"""Tube contents against EN 1057 sizes; friction against worked examples of the textbooks."""

import pytest

from models.physics import pipes


# EN 1057 sizes (outside × wall), contents as usually printed: CDA publication 33 (1999) and handbooks.
@pytest.mark.parametrize(
    ("outside_mm", "wall_mm", "l_per_m"),
    [(15, 0.7, 0.145), (22, 0.9, 0.320), (28, 0.9, 0.539), (35, 1.2, 0.835), (42, 1.2, 1.232), (54, 1.2, 2.091),
     (8, 0.6, 0.036), (10, 0.7, 0.058)],
)  # fmt: skip
def test_contents_of_copper_tube_are_those_of_en_1057(outside_mm, wall_mm, l_per_m):
    assert pipes.contents_l_m(pipes.bore_mm(outside_mm, wall_mm)) == pytest.approx(l_per_m, abs=0.001)
    assert pipes.contents_l_m(pipes.copper_bore_mm(outside_mm)) == pytest.approx(l_per_m, abs=0.001)


def test_thirty_metres_of_22_and_sixty_of_15_hold_18_litres():
    # arithmetic on EN 1057 sizes: 9.61 + 8.72 L
    litres = 30 * pipes.contents_l_m(pipes.copper_bore_mm(22)) + 60 * pipes.contents_l_m(pipes.copper_bore_mm(15))

    assert litres == pytest.approx(18.33, abs=0.01)


def test_stainless_tube_of_cengel_and_cimbala_loses_239_kpa():
    # Cengel & Cimbala, pipe-flow problem (answers from memory): D 40 mm, 8 L/s, e 0.002 mm, 30 m; 239 kPa.
    # Their water: 999.1 kg/m³, 1.138e-3 Pa s, that is 15 °C.
    loss_kpa = 30 * pipes.gradient_pa_m(480.0, 40.0, 15.0, roughness_mm=0.002) / 1000

    assert loss_kpa == pytest.approx(239, rel=0.005)


def test_smooth_plastic_of_crane_tp_410_has_its_reynolds_number():
    # Crane TP-410M Example 7.1, by way of the open `fluids` notebooks: 30 °C, 200 L/min, bore 52.5 mm; Re 100 600
    assert pipes.reynolds(200.0, 52.5, 30.0) == pytest.approx(100_600, rel=0.01)


# BS 6700:2006 Annex D, Table D.4, copper, cold, read from its chart: L/s → kPa/m. The computed loss lies
# 0–25 % below that chart.
@pytest.mark.parametrize(
    ("outside_mm", "l_s", "chart_kpa_m"),
    [(15, 0.1, 0.6), (15, 0.15, 1.3), (15, 0.2, 2.3), (15, 0.3, 5), (22, 0.3, 0.65), (22, 0.6, 2.5), (28, 0.9, 1.4)],
)
def test_cold_copper_lies_just_below_the_chart_of_bs_6700(outside_mm, l_s, chart_kpa_m):
    computed = pipes.gradient_pa_m(60 * l_s, pipes.copper_bore_mm(outside_mm), 10.0) / 1000

    assert 0.78 <= computed / chart_kpa_m <= 1.02


def test_half_a_cubic_metre_an_hour_through_kv_08_loses_039_bar():
    # IEC 60534-2-1: dp = (q / Kv)²; 0.5 m³/h through Kv 0.8 is 0.3906 bar
    flow_l_min = 0.5 * 1000 / 60

    assert pipes.kv_resistance(0.8) * flow_l_min**2 / 1e5 == pytest.approx(0.390625, rel=1e-9)
