"""Hot solubility against IAPWS G7-04; ingress against DIN 4726."""

import numpy as np
import pytest
from iapws._iapws import _Henry
from iapws.iapws97 import _PSat_T

from models.physics import corrosion, oxygen


@pytest.mark.parametrize(("kelvin", "log_gpa"), [(300, 1.5024), (400, 1.8832), (500, 1.1630), (600, -0.0276)])
def test_henrys_constant_is_that_of_g7_04_table_3(kelvin, log_gpa):
    # IAPWS G7-04, Table 3, ln(kH / 1 GPa) of oxygen in water (table from memory)
    assert np.log(oxygen.henry_oxygen_pa(kelvin - 273.15) / 1e9) == pytest.approx(log_gpa, abs=5e-5)


@pytest.mark.parametrize("kelvin", [280.0, 300.0, 330.0, 370.0])
def test_henry_and_vapour_pressure_agree_with_the_iapws_package(kelvin):
    assert oxygen.henry_oxygen_pa(kelvin - 273.15) == pytest.approx(_Henry(kelvin, "O2") * 1e6, rel=1e-9)
    # the package's vapour pressure is that of IF97, a formulation of its own
    assert oxygen.vapour_pressure_pa(kelvin - 273.15) == pytest.approx(_PSat_T(kelvin) * 1e6, rel=2e-4)


# Computed from IAPWS G7-04 and the vapour pressure, air at 1 atm in all
@pytest.mark.parametrize(("temp_c", "mg_l"), [(50, 5.54), (60, 4.69), (70, 3.81), (80, 2.82)])
def test_hot_water_holds_what_henrys_law_says(temp_c, mg_l):
    assert oxygen.oxygen_solubility_mg_l(temp_c) == pytest.approx(mg_l, abs=0.006)


@pytest.mark.parametrize(("temp_c", "mg_l"), [(20, 22.9), (60, 13.3), (80, 10.6)])
def test_air_at_two_and_a_half_bar_dissolves_more(temp_c, mg_l):
    # the figures rest on G7-04 at all temperatures; at 20 °C Benson & Krause lie 0.7 % lower
    assert oxygen.oxygen_solubility_mg_l(temp_c, 2.5e5) == pytest.approx(mg_l, rel=0.01)


def test_pipe_without_a_barrier_is_a_hundred_refills_a_season():
    # rationale of DIN 4726: 5 g/(m³ d) over 200 heating days against fills of 10 g/m³
    assert oxygen.plastic_oxygen_g(1000.0, 200.0) / 10.0 == 100.0


def test_a_hundred_metres_of_16_by_2_let_56_milligrams_a_day_through():
    # 11.3 L of contents; 41 g of magnetite in 200 days by the direct route
    assert oxygen.plastic_oxygen_g(11.3, 1.0) * 1000 == pytest.approx(56.5)
    assert corrosion.magnetite_from_oxygen_g(oxygen.plastic_oxygen_g(11.3, 200.0), 0.0) == pytest.approx(41, abs=0.5)


def test_both_forms_of_the_barrier_limit_meet_at_a_bore_of_128_mm():
    # DIN 4726 older form 0.10 g/(m³ d), newer form 0.32 mg/(m² d) at 40 °C; ISO 17455: 3.6 mg/(m² d) at 80 °C
    limit = oxygen.BARRIER_MG_M2_DAY[40.0]

    assert oxygen.barrier_per_contents_g_m3_day(limit, 12.8) == pytest.approx(oxygen.BARRIER_G_M3_DAY, rel=1e-12)


def test_one_fill_brings_a_gram_of_oxygen():
    # 100 L at 10 °C: 1.13 g
    assert oxygen.fill_oxygen_g(100.0, 10.0) == pytest.approx(1.13, abs=0.002)
