"""Liquid water between 0 and 99 °C near atmospheric pressure: density, specific heat, viscosity.

Polynomials in `temp_c / 100`, fitted to IAPWS-IF97 (density, specific heat; release R7-97(2012)) and
IAPWS R12-08 (viscosity) at 0.101325 MPa with the `iapws` package. The fits are there for speed: they
take whole arrays, while the releases are evaluated one state at a time. Largest distance from the
releases between 0.1 and 99 °C: density 0.01 kg/m³, specific heat 0.5 J/(kg K), viscosity 0.05 %.
At the 2.5 bar (absolute) of a sealed system the density is 0.07 kg/m³ higher.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import ArrayLike, NDArray

from pipeline.contract.units import J_PER_KWH, L_PER_M3

LOWEST_TEMP_C = 0.0
HIGHEST_TEMP_C = 99.0

_DENSITY = (999.8483306, 6.520412099, -87.54524555, 83.10671247, -75.83532466, 43.06164487, -10.80524758)
_SPECIFIC_HEAT = (4219.084341, -335.4266269, 1231.212598, -2684.087738, 3536.246155, -2419.163322, 669.0105155)
_LOG_VISCOSITY_MPA_S = (0.5830447623, -3.475293996, 3.501963632, -3.953609789, 3.575298169, -1.978637452, 0.4800294602)


def _share(temp_c: ArrayLike) -> NDArray[np.float64]:
    """Temperature / 100; ValueError outside the range of the fits."""
    temp = np.asarray(temp_c, dtype=np.float64)
    if np.any(temp < LOWEST_TEMP_C) or np.any(temp > HIGHEST_TEMP_C):
        raise ValueError(f"water temperature must lie in {LOWEST_TEMP_C:g}..{HIGHEST_TEMP_C:g} °C")
    return temp / 100.0


def density_kg_m3(temp_c: ArrayLike) -> NDArray[np.float64]:
    """Density [kg/m³] at `temp_c` [°C], any shape.

    >>> round(float(density_kg_m3(20.0)), 1)
    998.2
    """
    return np.asarray(polyval(_share(temp_c), _DENSITY))


def specific_heat_j_kg_k(temp_c: ArrayLike) -> NDArray[np.float64]:
    """Specific heat at constant pressure [J/(kg K)] at `temp_c` [°C], any shape.

    >>> round(float(specific_heat_j_kg_k(60.0)))
    4183
    """
    return np.asarray(polyval(_share(temp_c), _SPECIFIC_HEAT))


def viscosity_pa_s(temp_c: ArrayLike) -> NDArray[np.float64]:
    """Dynamic viscosity [Pa s] at `temp_c` [°C], any shape.

    >>> round(float(viscosity_pa_s(20.0)) * 1e3, 3)
    1.002
    """
    return np.asarray(np.exp(polyval(_share(temp_c), _LOG_VISCOSITY_MPA_S)) * 1e-3)


def heat_content_j_kg(temp_c: ArrayLike) -> NDArray[np.float64]:
    """Enthalpy of liquid water above 0 °C [J/kg]: the specific heat integrated from 0 to `temp_c` [°C]."""
    share = _share(temp_c)
    integral = [0.0, *(value / (power + 1) for power, value in enumerate(_SPECIFIC_HEAT))]
    return np.asarray(polyval(share, integral) * 100.0)


def warming_energy_kwh(volume_l: ArrayLike, from_c: ArrayLike, to_c: ArrayLike) -> NDArray[np.float64]:
    """Energy [kWh] to warm `volume_l` [L, measured at `from_c`] of water between two temperatures [°C].

    Water only: add the metal (`models.physics.heat.steel_energy_kwh`). Negative when it cools.

    >>> round(float(warming_energy_kwh(100.0, 10.0, 60.0)), 2)
    5.81
    """
    mass_kg = np.asarray(volume_l, dtype=np.float64) / L_PER_M3 * density_kg_m3(from_c)
    return np.asarray(mass_kg * (heat_content_j_kg(to_c) - heat_content_j_kg(from_c)) / J_PER_KWH)
