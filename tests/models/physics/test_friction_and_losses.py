import numpy as np
import pytest
from fluids.vectorized import friction_factor as colebrook

from models.physics import pipes
from models.physics.friction import LAMINAR_RE, TURBULENT_RE, friction_factor
from models.physics.losses import LossLaw, Tube, series_kv_m3_h
from models.physics.water import density_kg_m3, viscosity_pa_s

ROUGH = np.array([0.0, 1e-6, 1e-4, 1e-3, 0.01, 0.05])


def loss_pa(tube: Tube, flow_l_min: float, temp_c: float) -> tuple[float, float]:
    flow = np.full(np.shape(tube.bore_mm), flow_l_min)
    loss, slope = LossLaw.of(tube).loss(flow, density_kg_m3(temp_c), viscosity_pa_s(temp_c))
    return float(loss[0]), float(slope[0])


def test_turbulent_factor_lies_within_004_percent_of_colebrook():
    reynolds, rough = np.meshgrid(np.geomspace(TURBULENT_RE, 1e8, 200), ROUGH)
    exact = colebrook(Re=reynolds.ravel(), eD=rough.ravel()).reshape(rough.shape)

    assert np.abs(friction_factor(reynolds, rough) / exact - 1).max() < 4e-4


def test_laminar_factor_is_64_over_re():
    assert friction_factor([1.0, 500.0, LAMINAR_RE], 0.01) == pytest.approx([64, 0.128, 0.032], rel=1e-12)


@pytest.mark.parametrize("rough", ROUGH)
def test_loss_rises_without_a_step_from_laminar_to_turbulent(rough):
    reynolds = np.linspace(1500, 5000, 7001)
    loss = friction_factor(reynolds, rough) * reynolds**2

    assert np.all(np.diff(loss) > 0)
    assert np.abs(np.diff(loss) / loss[1:]).max() < 0.003


def test_the_factor_between_the_laws_stays_between_them():
    # `fluids` turns to Colebrook at Re 2,040; the turbulent end is met within its stated 0.04 %
    reynolds = np.linspace(2045, TURBULENT_RE, 101)
    factor = friction_factor(reynolds, 1e-4)

    assert np.all(factor > 64 / reynolds)
    assert np.all(factor < 1.0004 * colebrook(Re=reynolds, eD=np.full(101, 1e-4)))


def test_standing_water_has_no_friction_factor():
    with pytest.raises(ValueError, match="above 0"):
        friction_factor([1000.0, 0.0], 0.0)


@pytest.mark.parametrize(("flow", "bore"), [(0.4, 6.8), (6, 8.6), (12, 13.6), (30, 20.2), (60, 26.2)])
def test_loss_of_a_plain_tube_is_that_of_the_gradient(flow, bore):
    expected = 7 * pipes.gradient_pa_m(flow, bore, 40.0)

    assert loss_pa(Tube.of([7.0], bore), flow, 40.0)[0] == pytest.approx(expected, rel=4e-4)


def test_fittings_add_velocity_heads_and_valves_their_kv():
    flow, bore = 20.0, 20.2
    head = 0.5 * density_kg_m3(40.0) * pipes.velocity_m_s(flow, bore) ** 2
    valve = pipes.kv_resistance(1.3) * flow**2 * density_kg_m3(40.0) / 1000

    assert loss_pa(Tube.of([0.0], bore, 3.0, 1.3), flow, 40.0)[0] == pytest.approx(3 * head + valve, rel=1e-12)


@pytest.mark.parametrize("flow", [0.3, 1.6, 2.4, 8.0, 30.0])
def test_slope_of_the_loss_is_its_derivative(flow):
    tube, step = Tube.of([5.0], 13.6, 4.0, 1.0), 1e-4 * flow
    rise = loss_pa(tube, flow + step, 15.0)[0] - loss_pa(tube, flow - step, 15.0)[0]

    assert loss_pa(tube, flow, 15.0)[1] == pytest.approx(rise / (2 * step), rel=5e-5)


def test_reversed_flow_loses_as_much_the_other_way():
    tube = Tube.of([5.0], 13.6, 4.0, 1.0)

    assert loss_pa(tube, -9.0, 15.0)[0] == -loss_pa(tube, 9.0, 15.0)[0]


def test_two_equal_valves_have_the_kv_of_one_over_root_two():
    assert series_kv_m3_h(1.3, 1.3) == pytest.approx(1.3 / np.sqrt(2))


@pytest.mark.parametrize("wrong", [{"length_m": -1.0}, {"bore_mm": 0.0}, {"minor_k": -0.1}, {"kv_m3_h": 0.0}])
def test_impossible_tubes_are_refused(wrong):
    with pytest.raises(ValueError, match="must"):
        Tube.of(**({"length_m": 1.0, "bore_mm": 13.6} | wrong))
