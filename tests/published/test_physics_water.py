"""Water against the IAPWS releases, their printed tables, and independent standards."""

import numpy as np
import pytest
from iapws import IAPWS97
from iapws._iapws import _Viscosity

from models.physics import water

# Working table: IAPWS-IF97 (R7-97(2012)) and R12-08 at 0.101325 MPa: °C, kg/m³, mPa s, kJ/(kg K).
WORKING_TABLE = (
    (10, 999.702, 1.3059, 4.1954),
    (20, 998.206, 1.0016, 4.1848),
    (25, 997.048, 0.8900, 4.1819),
    (30, 995.652, 0.7972, 4.1800),
    (40, 992.224, 0.6527, 4.1786),
    (50, 988.047, 0.5465, 4.1796),
    (60, 983.211, 0.4660, 4.1828),
    (70, 977.779, 0.4036, 4.1881),
    (80, 971.803, 0.3541, 4.1955),
)


@pytest.mark.parametrize(("temp_c", "density", "viscosity_mpa_s", "heat_kj"), WORKING_TABLE)
def test_water_agrees_with_the_working_table(temp_c, density, viscosity_mpa_s, heat_kj):
    assert water.density_kg_m3(temp_c) == pytest.approx(density, abs=0.01)
    assert water.viscosity_pa_s(temp_c) * 1e3 == pytest.approx(viscosity_mpa_s, rel=5e-4)
    assert water.specific_heat_j_kg_k(temp_c) / 1e3 == pytest.approx(heat_kj, abs=5e-4)


def test_fits_keep_the_stated_distance_from_the_releases():
    temp = np.linspace(0.1, 99.0, 199)
    states = [IAPWS97(T=t + 273.15, P=0.101325) for t in temp]
    viscosity = np.array([_Viscosity(state.rho, state.T) for state in states])

    assert np.abs(water.density_kg_m3(temp) - [state.rho for state in states]).max() < 0.01
    assert np.abs(water.specific_heat_j_kg_k(temp) - [1e3 * state.cp for state in states]).max() < 0.5
    assert np.abs(water.viscosity_pa_s(temp) / viscosity - 1).max() < 5e-4


# The package that the fits rest on, against the program-verification tables printed in the releases.
@pytest.mark.parametrize(
    ("kelvin", "density", "micro_pa_s"),
    [(298.15, 998, 889.735100), (298.15, 1200, 1437.649467), (373.15, 1000, 307.883622), (433.15, 1000, 217.685358)],
)
def test_viscosity_agrees_with_r12_08_table_4(kelvin, density, micro_pa_s):
    assert _Viscosity(density, kelvin) * 1e6 == pytest.approx(micro_pa_s, rel=1e-8)


@pytest.mark.parametrize(
    ("kelvin", "mpa", "volume", "heat_kj"),
    [(300, 3, 0.100215168e-2, 4.17301218), (300, 80, 0.971180894e-3, 4.01008987), (500, 3, 0.120241800e-2, 4.65580682)],
)
def test_density_and_heat_agree_with_if97_table_5(kelvin, mpa, volume, heat_kj):
    state = IAPWS97(T=kelvin, P=mpa)

    assert state.v == pytest.approx(volume, rel=1e-8)
    assert state.cp == pytest.approx(heat_kj, rel=1e-8)


def test_viscosity_at_20_c_is_that_of_iso_tr_3666():
    # ISO/TR 3666: 1.0016 mPa s at 20 °C (from memory)
    assert water.viscosity_pa_s(20.0) * 1e3 == pytest.approx(1.0016, abs=2e-4)


@pytest.mark.parametrize(("temp_c", "density"), [(20.0, 998.2067), (25.0, 997.047)])
def test_density_is_that_of_tanaka_2001(temp_c, density):
    # Tanaka et al. 2001, Metrologia 38 (the CIPM recommendation), from memory
    assert water.density_kg_m3(temp_c) == pytest.approx(density, abs=0.01)
