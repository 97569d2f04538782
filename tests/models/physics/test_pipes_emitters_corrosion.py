import numpy as np
import pytest

from models.physics import corrosion, emitters, pipes
from models.physics.water import viscosity_pa_s


def test_velocity_times_contents_is_the_flow():
    # 1 m/s through 0.1453 L/m is 8.72 L/min
    assert pipes.velocity_m_s(8.716, 13.6) == pytest.approx(1.0, abs=1e-3)


def test_a_wall_that_fills_the_tube_is_refused():
    with pytest.raises(ValueError, match="half of outside_mm"):
        pipes.bore_mm(8.0, 4.0)


def test_laminar_loss_is_that_of_hagen_and_poiseuille():
    flow_m3_s, bore_m = 0.4 / 60_000, 0.0068
    poiseuille_pa_m = 128 * viscosity_pa_s(20.0) * flow_m3_s / (np.pi * bore_m**4)

    assert pipes.reynolds(0.4, 6.8, 20.0) < 2000
    assert pipes.gradient_pa_m(0.4, 6.8, 20.0) == pytest.approx(poiseuille_pa_m, rel=1e-6)


@pytest.mark.parametrize("bore", [6.8, 13.6, 20.2, 26.2])
@pytest.mark.parametrize("velocity", [0.3, 1.0, 2.0])
def test_the_square_law_lies_within_its_stated_share_of_the_full_one(bore, velocity):
    flow = velocity * 60 * pipes.contents_l_m(bore)
    short = pipes.square_law_resistance(1.0, bore) * flow**2

    assert 0.65 <= short / pipes.gradient_pa_m(flow, bore, 40.0) <= 1.65


def test_four_times_the_loss_at_twice_the_flow_through_a_valve():
    assert pipes.kv_resistance(0.5) == pytest.approx(4 * pipes.kv_resistance(1.0))


def test_two_panels_hold_and_touch_twice_as_much_as_one():
    assert emitters.panel_contents_l(2, 600.0, 1200.0) == pytest.approx(2 * emitters.panel_contents_l(1, 600.0, 1200.0))
    # two faces of 0.6 m × 1.2 m
    assert emitters.panel_wetted_area_m2(1, 600.0, 1200.0) == pytest.approx(1.44)


def test_a_cold_emitter_gives_no_heat():
    assert emitters.output_ratio([-5.0, 0.0]).tolist() == [0.0, 0.0]


def test_oxygen_is_refused_above_40_c():
    with pytest.raises(ValueError, match=r"0\.\.40 °C"):
        corrosion.oxygen_saturation_mg_l(60.0)


def test_water_close_to_the_mains_needs_no_rinse():
    assert corrosion.rinse_volumes_needed([1.0, 1.05], 0.1).tolist() == [0.0, 0.0]
