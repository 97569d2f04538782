"""Pressure and cooling: against density tables, Boyle's law by hand, and each other."""

from __future__ import annotations

import numpy as np
import pytest

from models.physics.pressure import (
    cooling_drop_bar,
    expansion_share,
    gas_volume_l,
    open_vented_drop_bar,
    pressure_after_bar,
    vessel_size_l,
    water_lost_l,
)


@pytest.mark.parametrize(("warm", "percent"), [(40.0, 0.75), (60.0, 1.68), (80.0, 2.87)])
def test_expansion_from_ten_degrees_is_that_of_density_tables(warm: float, percent: float) -> None:
    # densities of water at 10, 40, 60, 80 °C: 999.70, 992.22, 983.20, 971.80 kg/m³ (IAPWS tables, from memory)
    assert 100 * float(expansion_share(10.0, warm)) == pytest.approx(percent, abs=0.01)


def test_boyle_by_hand() -> None:
    # 12 L at 1.0 bar gauge pressed to 2.0 bar: 12 · 2.01325 / 3.01325 = 8.018 L; back by 3.982 L it stands at 1.0
    gas = float(gas_volume_l(12.0, 1.0, 2.0))
    assert gas == pytest.approx(8.018, abs=0.001)
    assert float(pressure_after_bar(2.0, gas, -(12.0 - gas))) == pytest.approx(1.0, abs=1e-9)


def test_cooling_and_water_lost_are_two_sides_of_one_sum() -> None:
    drop = float(cooling_drop_bar(2.0, 60.0, 30.0, 120.0, 8.0))

    assert drop > 0
    assert float(water_lost_l(2.0, 2.0 - drop, 60.0, 30.0, 120.0, 8.0)) == pytest.approx(0.0, abs=1e-9)
    assert float(water_lost_l(2.0, 2.0 - drop - 0.2, 60.0, 30.0, 120.0, 8.0)) > 0.3


def test_a_full_vessel_has_no_finite_pressure_and_a_bad_range_is_refused() -> None:
    assert np.isinf(pressure_after_bar(1.0, 2.0, 2.0))
    with pytest.raises(ValueError, match="above precharge_bar"):
        vessel_size_l(100.0, 80.0, precharge_bar=1.5, final_bar=1.5)


@pytest.mark.parametrize(
    ("volume_l", "final_bar", "vessel_l"),
    [
        # by hand, 10 to 80 °C is 2.87 %: usable (2.5 − 1)/3.5 = 0.4286
        (60.0, 2.5, 1.722 / (0.4286 - 0.2)),  # 7.5 L: a fifth of it is reserve
        (200.0, 2.5, (5.740 + 3.0) / 0.4286),  # 20.4 L: 3 L of reserve
        (1000.0, 2.5, (28.70 + 5.0) / 0.4286),  # 78.6 L: half a per cent of the system
        (50.0, 1.4, (1.435 + 3.0) / 0.16667),  # so little pressure to spare that a fifth is more than is usable
    ],
)
def test_the_reserve_of_a_vessel_is_a_fifth_of_a_small_one(volume_l: float, final_bar: float, vessel_l: float) -> None:
    size = vessel_size_l(volume_l, 80.0, precharge_bar=1.0, final_bar=final_bar)
    assert size == pytest.approx(vessel_l, rel=0.002)


def test_under_an_open_tank_cooling_hardly_moves_the_gauge() -> None:
    assert abs(float(open_vented_drop_bar(5.0, 70.0, 20.0, 120.0, 0.15))) < 0.03
