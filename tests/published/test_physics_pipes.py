"""Tube contents against EN 1057 sizes; friction against worked examples of the textbooks."""

import numpy as np
import pytest

from models.physics import pipes
from models.physics.water import density_kg_m3


# EN 1057 sizes (outside × wall), contents as usually printed: CDA publication 33 (1999) and handbooks.
@pytest.mark.parametrize(
    ("outside_mm", "wall_mm", "l_per_m"),
    [
        (15, 0.7, 0.145),
        (22, 0.9, 0.320),
        (28, 0.9, 0.539),
        (35, 1.2, 0.835),
        (42, 1.2, 1.232),
        (54, 1.2, 2.091),
        (8, 0.6, 0.036),
        (10, 0.7, 0.058),
    ],
)
def test_contents_of_copper_tube_are_those_of_en_1057(outside_mm, wall_mm, l_per_m):
    assert pipes.contents_l_m(pipes.bore_mm(outside_mm, wall_mm)) == pytest.approx(l_per_m, abs=0.001)
    assert pipes.contents_l_m(pipes.copper_bore_mm(outside_mm)) == pytest.approx(l_per_m, abs=0.001)


# Other walls of EN 1057 (tables Y and Z of the older BS 2871) and medium steel tube of EN 10255; from memory
@pytest.mark.parametrize(
    ("outside_mm", "wall_mm", "l_per_m"),
    [
        (10, 0.6, 0.061),
        (12, 0.6, 0.092),
        (15, 1.0, 0.133),
        (15, 0.5, 0.154),
        (22, 1.2, 0.302),
        (21.3, 2.6, 0.204),
        (26.9, 2.6, 0.370),
        (33.7, 3.2, 0.585),
    ],
)
def test_contents_follow_the_wall(outside_mm, wall_mm, l_per_m):
    assert pipes.contents_l_m(pipes.bore_mm(outside_mm, wall_mm)) == pytest.approx(l_per_m, abs=0.001)


@pytest.mark.parametrize(("outside_mm", "l_min"), [(8, 2.18), (15, 8.72), (22, 19.23), (28, 32.35), (35, 50.08)])
def test_a_metre_a_second_is_the_contents_a_second(outside_mm, l_min):
    # arithmetic on EN 1057 bores
    assert pipes.velocity_m_s(l_min, pipes.copper_bore_mm(outside_mm)) == pytest.approx(1.0, abs=1e-3)


# Flow at a fixed gradient, Colebrook with k 0.0015 mm (copper) and 0.046 mm (steel), worked outside this code; CIBSE
# Guide C tabulates the same (not seen). kg/s at 100, 200 and 300 Pa/m; transitional entries left out.
@pytest.mark.parametrize(
    ("bore_mm", "temp_c", "rough_mm", "kg_s"),
    [
        (13.6, 75, 0.0015, (0.0428, 0.0636, 0.0801)),
        (20.2, 75, 0.0015, (0.1253, 0.1855, 0.2331)),
        (26.2, 75, 0.0015, (0.2530, 0.3736, 0.4688)),
        (32.6, 75, 0.0015, (0.4557, 0.6717, 0.8419)),
        (8.8, 75, 0.0015, (0.0130, 0.0194, 0.0245)),
        (6.8, 75, 0.0015, (0.0064, 0.0096, 0.0121)),
        (13.6, 10, 0.0015, (0.0353, 0.0532, 0.0674)),
        (20.2, 10, 0.0015, (0.1055, 0.1578, 0.1994)),
        (26.2, 10, 0.0015, (0.2153, 0.3209, 0.4048)),
        (32.6, 10, 0.0015, (0.3909, 0.5812, 0.7321)),
        (6.8, 10, 0.0015, (0.0040, 0.0080, 0.0121)),
        (16.1, 75, 0.046, (0.0625, 0.0910, 0.1130)),
        (21.7, 75, 0.046, (0.1398, 0.2028, 0.2515)),
        (27.3, 75, 0.046, (0.2589, 0.3746, 0.4640)),
    ],
)
def test_flow_at_a_fixed_gradient_is_the_tabulated_one(bore_mm, temp_c, rough_mm, kg_s):
    l_min = np.array(kg_s) / density_kg_m3(temp_c) * 60_000
    computed = pipes.gradient_pa_m(l_min, bore_mm, temp_c, roughness_mm=rough_mm)

    # the flow is printed to 4 decimals: the gradient to twice its last digit
    assert computed == pytest.approx([100, 200, 300], rel=0.003 + 1.8 * 0.00005 / kg_s[0])


def test_thirty_metres_of_22_and_sixty_of_15_hold_18_litres():
    # arithmetic on EN 1057 sizes: 9.61 + 8.72 L
    litres = 30 * pipes.contents_l_m(pipes.copper_bore_mm(22)) + 60 * pipes.contents_l_m(pipes.copper_bore_mm(15))

    assert litres == pytest.approx(18.33, abs=0.01)


def test_stainless_tube_of_cengel_and_cimbala_loses_239_kpa():
    # Cengel & Cimbala, pipe-flow problem (answers from memory): D 40 mm, 8 L/s, e 0.002 mm, 30 m; 239 kPa.
    # Their water: 999.1 kg/m³, 1.138e-3 Pa s, that is 15 °C.
    loss_kpa = 30 * pipes.gradient_pa_m(480.0, 40.0, 15.0, roughness_mm=0.002) / 1000

    assert loss_kpa == pytest.approx(239, rel=0.005)


# BS 6700:2006 Annex D, Table D.4, copper, cold, read from its chart: L/s → kPa/m. The computed loss lies
# 0–25 % below that chart.
@pytest.mark.parametrize(
    ("outside_mm", "l_s", "chart_kpa_m"),
    [
        (15, 0.1, 0.6),
        (15, 0.15, 1.3),
        (15, 0.2, 2.3),
        (15, 0.3, 5),
        (22, 0.3, 0.65),
        (22, 0.32, 0.8),
        (22, 0.6, 2.5),
        (28, 0.35, 0.25),
        (28, 0.9, 1.4),
    ],
)
def test_cold_copper_lies_just_below_the_chart_of_bs_6700(outside_mm, l_s, chart_kpa_m):
    computed = pipes.gradient_pa_m(60 * l_s, pipes.copper_bore_mm(outside_mm), 10.0) / 1000

    assert 0.78 <= computed / chart_kpa_m <= 1.02
