import numpy as np
import pytest
from scipy.optimize import fsolve

from models.physics import circuit_parts as parts
from models.physics import pipes
from models.physics.emitters import bottom_header_velocity_m_s
from models.physics.hydraulics import (
    HEAD_TOLERANCE,
    MASS_TOLERANCE,
    NotSolved,
    OnePipe,
    TwoPipe,
    solve_alone,
    solve_one_pipe,
    solve_two_pipe,
)
from models.physics.losses import Tube
from models.physics.machine import Machine, share_of_maximum, shutoff_from_open_hoses_pa
from models.physics.water import density_kg_m3
from pipeline.contract.job_log import CONNECTIONS

ONE = np.ones(1)


def valves(*kv: float) -> Tube:
    """Valves alone, one job: losses are squares, so that answers can be written down."""
    return Tube.of(np.zeros((1, len(kv))), 13.6, 0.0, [kv])


def nothing(emitters: int) -> Tube:
    return Tube.of(np.zeros((1, emitters)), 20.2)


def bare_machine(shutoff_pa: float = 1e5) -> Machine:
    return Machine.of(60.0, shutoff_pa, 0.0)


def test_parallel_valves_share_by_their_kv():
    network = TwoPipe.of([], nothing(3), valves(0.5, 1.0, 1.5))
    flows = solve_two_pipe(network, bare_machine(), np.ones((1, 3), bool), 20.0)
    inner = 1e5 / 60**2
    outer = pipes.kv_resistance(3.0) * density_kg_m3(20.0) / 1000
    total = np.sqrt(1e5 / (inner + outer))

    assert flows.total_l_min == pytest.approx(total, rel=1e-8)
    assert flows.emitter_l_min[0] == pytest.approx(total * np.array([1, 2, 3]) / 6, rel=1e-8)


def test_a_loop_splits_by_the_roots_of_the_resistances():
    past, through = pipes.kv_resistance(4.0), pipes.kv_resistance(0.8)
    network = OnePipe.of([], valves(4.0, 4.0), valves(0.8, 0.8))
    flows = solve_one_pipe(network, bare_machine(), np.array([[True, False]]), 20.0)

    assert flows.emitter_l_min[0, 0] / flows.total_l_min[0] == pytest.approx(
        np.sqrt(past) / (np.sqrt(past) + np.sqrt(through)), rel=1e-8
    )
    assert flows.emitter_l_min[0, 1] == 0
    assert flows.bypass_l_min[0, 1] == flows.total_l_min[0]


def test_a_house_agrees_with_fsolve_on_colebrook_equations(houses):
    job = int(np.argmax((houses.present.sum(axis=1) == 5) & (houses.branches.bore_mm[:, 0] > 10)))
    take, m = slice(0, 5), houses.machine

    def unbalanced(flows):
        def lost(tube, at, flow):
            head = 0.5 * density_kg_m3(60.0) * pipes.velocity_m_s(flow, tube.bore_mm[at]) ** 2 * tube.minor_k[at]
            straight = tube.length_m[at] * pipes.gradient_pa_m(flow, tube.bore_mm[at], 60.0, tube.roughness_mm[at])
            return straight + head + pipes.kv_resistance(tube.kv_m3_h[at]) * density_kg_m3(60.0) / 1000 * flow**2

        through = np.cumsum(flows[::-1])[::-1]
        head = m.shutoff_pa[job] - m.fall[job] * through[0] ** 2 - sum(lost(t, job, through[0]) for t in houses.common)
        return head - np.cumsum(lost(houses.mains, (job, take), through)) - lost(houses.branches, (job, take), flows)

    ours = solve_two_pipe(houses.two_pipe, m, houses.present, 60.0).emitter_l_min[job, take]

    assert ours == pytest.approx(fsolve(unbalanced, np.full(5, 5.0)), rel=1e-3)


@pytest.mark.parametrize("temp_c", [5.0, 40.0, 80.0])
def test_heads_and_masses_balance_to_the_stated_tolerance(houses, temp_c):
    two = solve_two_pipe(houses.two_pipe, houses.machine, houses.present, temp_c)
    one = solve_one_pipe(houses.one_pipe, houses.machine, houses.present, temp_c)

    assert max(two.head_left.max(), one.head_left.max()) <= HEAD_TOLERANCE
    assert max(two.mass_left.max(), one.mass_left.max()) <= MASS_TOLERANCE
    assert max(two.iterations, one.iterations) <= 6  # Newton's steps: each about squares what is left
    assert np.abs(two.emitter_l_min.sum(axis=1) / two.total_l_min - 1).max() <= MASS_TOLERANCE
    assert np.array_equal(two.emitter_l_min > 0, houses.present)


def test_one_emitter_alone_is_the_network_with_the_other_valves_shut(houses):
    emitter = houses.present.sum(axis=1) - 1
    only = np.arange(8) == emitter[:, None]

    alone = solve_alone(houses.two_pipe, houses.machine, emitter, 50.0)

    assert alone == pytest.approx(solve_two_pipe(houses.two_pipe, houses.machine, only, 50.0).total_l_min, rel=1e-7)


def test_the_more_emitters_are_open_the_less_each_of_them_gets(houses):
    group = houses.present & (np.arange(8) < 2)
    alone = solve_alone(houses.two_pipe, houses.machine, np.zeros(len(group), dtype=np.intp), 50.0)
    grouped = solve_two_pipe(houses.two_pipe, houses.machine, group, 50.0).emitter_l_min[:, 0]
    every = solve_two_pipe(houses.two_pipe, houses.machine, houses.present, 50.0).emitter_l_min[:, 0]
    more = houses.present.sum(axis=1) > 2

    assert np.all(alone > grouped)
    assert np.all((grouped > every)[more])


def test_hotter_water_is_thinner_and_flows_faster(houses):
    cold, hot = (solve_two_pipe(houses.two_pipe, houses.machine, houses.present, t).total_l_min for t in (10.0, 70.0))

    assert np.all(hot > cold)


def test_smaller_tails_get_less_and_a_closer_valve_too():
    machine, opened = bare_machine(), np.ones((1, 4), bool)

    def first(bore_mm: float, kv: float) -> float:
        branches = parts.tails(np.full((1, 4), 6.0), bore_mm, kv)
        return float(solve_two_pipe(TwoPipe.of([], nothing(4), branches), machine, opened, 40.0).emitter_l_min[0, 0])

    assert first(13.6, 0.9) > first(8.6, 0.9) > first(6.8, 0.9)
    assert first(13.6, 0.9) > first(13.6, 0.3)


def test_like_emitters_get_less_the_farther_they_are():
    network = TwoPipe.of([], parts.mains(np.full((1, 6), 4.0), 20.2), parts.tails(np.full((1, 6), 6.0), 13.6))
    flow = solve_two_pipe(network, bare_machine(), np.ones((1, 6), bool), 40.0).emitter_l_min[0]

    assert np.all(np.diff(flow) < 0)


def test_22_mm_at_the_heat_source_gives_most_flow():
    names = np.array(["boiler_flow_return", "pump_tails", "emitter_tails", "emitter_valves", "microbore_tails"])
    hose, like = parts.hoses(5), np.ones((5, 8))
    network = TwoPipe.of([hose, parts.connections(names)], parts.mains(3 * like, 20.2), parts.tails(6 * like, 13.6))
    machine = Machine.with_hoses(80.0, 2e5, hose)
    share = share_of_maximum(solve_two_pipe(network, machine, like > 0, 50.0).total_l_min, machine)

    assert np.all(np.diff(share) < 0)
    assert 0.5 < share[0] < 1
    assert share[4] < 0.35


def test_hoses_joined_to_each_other_give_the_maximum():
    hose = parts.hoses(1)
    machine = Machine.with_hoses(80.0, 2e5, hose, temp_c=15.0)
    wide = TwoPipe.of([hose], nothing(1), Tube.of(np.zeros((1, 1)), 1000.0, 1e-6))

    assert solve_alone(wide, machine, np.array([0]), 15.0) == pytest.approx(80.0, rel=1e-6)


def test_a_filling_strainer_takes_flow_from_all(houses):
    clear = solve_two_pipe(houses.two_pipe, houses.machine, houses.present, 50.0)
    filled = solve_two_pipe(houses.two_pipe, houses.machine, houses.present, 50.0, added=20.0)
    again = solve_two_pipe(houses.two_pipe, houses.machine, houses.present, 50.0, 20.0, start_l_min=clear.emitter_l_min)

    assert np.all(filled.emitter_l_min[houses.present] < clear.emitter_l_min[houses.present])
    assert again.emitter_l_min == pytest.approx(filled.emitter_l_min, rel=1e-7)


def test_all_valves_shut_stop_two_pipes_but_not_a_loop(houses):
    shut = np.zeros_like(houses.present)

    assert solve_two_pipe(houses.two_pipe, houses.machine, shut, 50.0).total_l_min.max() == 0
    assert solve_one_pipe(houses.one_pipe, houses.machine, shut, 50.0).total_l_min.min() > 5


def test_a_loop_lets_most_of_the_water_pass_the_emitters_by(houses):
    opened = houses.present & (np.arange(8) == 0)
    flows = solve_one_pipe(houses.one_pipe, houses.machine, opened, 50.0)
    share = flows.emitter_l_min[:, 0] / flows.total_l_min

    assert share.max() < 0.25
    assert (
        flows.emitter_l_min[:, 0].mean()
        < 0.3 * solve_alone(houses.two_pipe, houses.machine, np.zeros(len(share), dtype=np.intp), 50.0).mean()
    )


def test_some_rows_solve_as_they_do_among_all(houses):
    rows = np.array([5, 17, 40])
    every = solve_two_pipe(houses.two_pipe, houses.machine, houses.present, 50.0)
    some = solve_two_pipe(houses.two_pipe.take(rows), houses.machine.take(rows), houses.present[rows], 50.0)

    assert some.emitter_l_min == pytest.approx(every.emitter_l_min[rows], rel=1e-7)


def test_no_jobs_at_all_are_solved_too(houses):
    none = np.array([], dtype=np.intp)
    machine, shut = houses.machine.take(none), np.zeros((0, 8), dtype=bool)

    assert solve_two_pipe(houses.two_pipe.take(none), machine, shut, 50.0).total_l_min.size == 0
    assert solve_one_pipe(houses.one_pipe.take(none), machine, shut, 50.0).total_l_min.size == 0
    assert solve_alone(houses.two_pipe.take(none), machine, none, 50.0).size == 0


def test_a_network_that_cannot_be_solved_is_not_handed_out():
    machine = Machine(ONE * np.nan, ONE, ONE)
    with pytest.raises(NotSolved, match="1 of 1 networks"):
        solve_two_pipe(TwoPipe.of([], nothing(1), valves(1.0)), machine, np.ones((1, 1), bool), 20.0)


def test_hoses_that_take_the_whole_head_are_refused():
    with pytest.raises(ValueError, match="above hose_loss_pa"):
        Machine.of(60.0, 1e5, 1e5)


def test_shut_off_head_follows_from_open_hoses_and_the_inner_share():
    assert shutoff_from_open_hoses_pa(2e4, 0.8) == pytest.approx(1e5)


def test_a_manifold_serves_like_tails_alike():
    network = TwoPipe.of([], parts.manifold_mains(1, 5), parts.tails(np.full((1, 5), 10.0), 8.6))
    flow = solve_two_pipe(network, bare_machine(), np.ones((1, 5), bool), 40.0).emitter_l_min[0]

    assert flow == pytest.approx(np.full(5, flow[0]), rel=1e-9)


def test_half_draining_costs_a_little_flow_and_moves_the_bottom_faster():
    def solved(half_drained: bool) -> float:
        branches = parts.tails(np.full((1, 1), 6.0), 13.6, half_drained=half_drained)
        return float(solve_alone(TwoPipe.of([], nothing(1), branches), bare_machine(), np.array([0]), 40.0)[0])

    full, half = solved(False), solved(True)

    assert 0.9 * full < half < full
    assert bottom_header_velocity_m_s(half, 1, 1400.0, half_drained=True) > 1.2 * bottom_header_velocity_m_s(
        full, 1, 1400.0
    )


def test_every_connection_of_the_job_log_has_its_tubes():
    assert set(parts.CONNECTIONS) == set(CONNECTIONS)


def test_an_unknown_connection_is_refused():
    with pytest.raises(KeyError, match="roof"):
        parts.connections(np.array(["roof"]))
