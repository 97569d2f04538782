"""Flows of a flush: microbore, joints, loops and defects come out of the solved network."""

import numpy as np
import pytest

from synthetic_data.flush.network import ALL, STATION
from synthetic_data.house.house import MICROBORE, ONE_PIPE


def flows(world, band=2):
    """Flow through emitter 1 alone, through each emitter with all open, and through the machine for both [L/min]."""
    f, count = world.flows, int(world.houses.emitter_count[0])
    return (f.branch[band, STATION, 0, 0], f.branch[band, ALL, 0, :count], f.total[band, 0, 0], f.total[band, 0, -1])


def test_what_the_machine_gives_goes_through_the_emitters(still_world):
    world, _ = still_world(emitters=8)
    alone, each, total_alone, total = flows(world)

    assert total_alone == pytest.approx(alone, rel=1e-9)
    assert total == pytest.approx(each.sum(), rel=1e-9)
    assert total < 40.0


def test_focus_multiplies_the_flow_of_an_emitter(still_world):
    world, _ = still_world(emitters=8)
    alone, each, total_alone, total = flows(world)

    assert alone > 3.0 * each.max()
    assert total_alone < total


def test_emitters_further_from_the_source_get_less(still_world):
    world, _ = still_world(emitters=8)
    _, each, _, _ = flows(world)

    assert (np.diff(each) < 0).all()


def test_groups_lie_between_one_and_all(still_world):
    single, grouped = still_world(emitters=9)[0], still_world(emitters=9, isolation=1)[0]
    alone, each, _, _ = flows(single)
    in_group = grouped.flows.branch[2, STATION, 0, :9]

    assert (in_group > each).all()
    assert (in_group < alone).all()


def test_microbore_throttles(still_world):
    wide, narrow = still_world(emitters=8)[0], still_world(emitters=8, layout=MICROBORE)[0]

    assert flows(narrow)[0] < 0.5 * flows(wide)[0]
    assert flows(narrow)[3] < flows(wide)[3]


def test_a_loop_carries_most_of_the_water_past_an_emitter(still_world):
    loop, wide = still_world(emitters=8, layout=ONE_PIPE)[0], still_world(emitters=8)[0]
    alone, each, total_alone, total = flows(loop)

    assert alone < 0.3 * flows(wide)[0]
    assert alone < 0.3 * total_alone
    # closing the other valves hardly helps: all the water goes round the loop either way
    assert alone == pytest.approx(each[0], rel=0.25)
    assert total_alone == pytest.approx(total, rel=0.1)


@pytest.mark.parametrize(("better", "worse"), [(0, 2), (2, 3), (0, 4)])
def test_a_narrow_joint_throttles_the_machine(still_world, better, worse):
    # 22 mm at the heat source, 15 mm tails, through a valve, through microbore
    totals = [flows(still_world(emitters=8, connection=kind)[0])[3] for kind in (better, worse)]

    assert totals[1] < 0.8 * totals[0]


def test_cold_water_flows_less_and_much_less_through_microbore(still_world):
    for layout, least in ((0, 0.9), (MICROBORE, 0.75)):
        world = still_world(emitters=8, layout=layout)[0]
        cold, warm = flows(world, 0)[0], flows(world, 2)[0]
        assert least < cold / warm < 1.0


def test_a_throttled_connection_lowers_the_flow_from_its_minute_on(still_world):
    world, _ = still_world(emitters=4, defects={"from_min": 20, "connection_kv_m3_h": 0.16})
    row = world.flows.faulty_row[0]

    assert row == 1
    assert world.flows.total[2, row, -1] < 0.5 * world.flows.total[2, 0, -1]


def test_a_bypass_takes_the_flow_from_the_emitters(still_world):
    world, _ = still_world(emitters=4, defects={"from_min": 1, "bypass_kv_m3_h": 3.0})
    f, row = world.flows, world.flows.faulty_row[0]

    assert f.total[2, row, -1] > f.total[2, 0, -1]
    assert f.branch[2, ALL, row, :4].sum() < 0.6 * f.branch[2, ALL, 0, :4].sum()
    assert f.branch[2, STATION, row, 0] < 0.6 * f.branch[2, STATION, 0, 0]


def test_the_middle_band_is_close_to_a_solution_of_its_own(chunk):
    # cold and hot differ by a few per cent, so that their mean does for between
    from synthetic_data.flush import network

    s, plans = chunk.setting, chunk.plans
    circuits, _, _ = network.build_circuits(
        s.houses, s.systems, plans, s.staff, s.parameters, network.Defects.none(chunk.jobs)
    )
    rows = np.arange(100)
    solved = [network.solve_open(circuits, rows, s.houses.present[rows], c)[1] for c in network.BAND_C]

    assert 0.5 * (solved[0] + solved[2]) == pytest.approx(solved[1], rel=0.02)
