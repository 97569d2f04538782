"""Flow to be expected: by hand, by law, and against what a solved network of the same parts lets through."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from models.catch.records.sensor_readings import Readings, Setup
from models.catch.warnings.expected_flow import HEAD_PA, MAIN_M, TAIL_M, expected_l_min
from models.catch.warnings.flow_ratio import log_ratios
from models.physics import circuit_parts, hydraulics
from models.physics.machine import Machine
from models.physics.pipes import copper_bore_mm
from tests.models.catch.warnings.test_warnings import SOUND, job

SETUP = Setup(
    "sealed",
    40.0,
    isolation="one_at_a_time",
    connection="boiler_flow_return",
    hose_m=7.5,
    hose_bore_mm=25.0,
    thermostatic_share=0.0,
)


def test_flow_agrees_with_a_solved_network_of_the_same_parts() -> None:
    # the same loss laws, solved by Newton for the network and by bracketing here
    one = np.ones((1, 1))
    hoses = circuit_parts.hoses(1, 15.0, 25.0)
    network = hydraulics.TwoPipe.of(
        (hoses, circuit_parts.connections(np.array(["boiler_flow_return"]))),
        circuit_parts.mains(MAIN_M * one, copper_bore_mm(22.0)),
        circuit_parts.tails(TAIL_M * one, copper_bore_mm(15.0)),
    )
    machine = Machine.with_hoses(np.array([40.0]), np.array([HEAD_PA]), hoses)
    solved = hydraulics.solve_two_pipe(network, machine, np.array([[True]]), 50.0)

    assert expected_l_min(SETUP, 1) == pytest.approx(float(solved.total_l_min[0]), rel=1e-3)


# Worked outside this code with a solver of its own: 200 kPa at shut-off, 40 L/min with the hoses joined, hoses 15 m
# of 25 mm, main 15 m × 20.2 mm, tails 6 m × 13.6 mm (thin ones 12 m), two manual valves together Kv 0.919, 50 °C
@pytest.mark.parametrize(
    ("change", "open_count", "l_min"),
    [
        ({}, 1, 16.92),
        ({"tail_bore_mm": 10.0}, 1, 9.50),
        ({"tail_bore_mm": 8.0}, 1, 5.84),
        ({}, 8, 35.3),
        ({"connection": "emitter_valves"}, 1, 12.53),
    ],
)
def test_flow_is_that_of_a_solver_of_another_hand(change: dict[str, Any], open_count: int, l_min: float) -> None:
    assert expected_l_min(replace(SETUP, **change), open_count) == pytest.approx(l_min, rel=0.015)


def test_thermostatic_bodies_let_less_through_and_an_unknown_mix_lies_between() -> None:
    """Kv 0.7 and 1.3 in series are 0.616; the solver of another hand gives 11.61 L/min at 0.545 and 16.92 at 0.919."""
    body, manual = (expected_l_min(replace(SETUP, thermostatic_share=share), 1) or 0.0 for share in (1.0, 0.0))
    unknown = expected_l_min(replace(SETUP, thermostatic_share=None), 1) or 0.0

    assert 11.61 < body < unknown < manual
    assert body == pytest.approx(np.interp(0.616, [0.545, 0.919], [11.61, 16.92]), rel=0.03)


def test_antifreeze_leaves_the_flow_to_be_expected_unknown() -> None:
    assert expected_l_min(replace(SETUP, has_antifreeze=True), 1) is None


@pytest.mark.parametrize(
    ("narrower", "wider"),
    [
        (replace(SETUP, tail_bore_mm=8.0), replace(SETUP, tail_bore_mm=15.0)),
        (replace(SETUP, connection="microbore_tails"), SETUP),
    ],
)
def test_what_is_narrower_lets_less_through(narrower: Setup, wider: Setup) -> None:
    less, more = expected_l_min(narrower, 1) or np.nan, expected_l_min(wider, 1) or np.nan

    assert less < 0.8 * more <= 0.8 * 40.0


def test_a_machine_that_gives_as_much_through_narrow_hoses_is_the_stronger_one() -> None:
    narrow = replace(SETUP, hose_bore_mm=12.0)

    assert (expected_l_min(narrow, 1) or 0.0) > (expected_l_min(SETUP, 1) or np.inf)


def test_more_emitters_open_let_more_through_but_never_the_whole_of_the_machine() -> None:
    flows = [expected_l_min(SETUP, count) or 0.0 for count in (1, 2, 4, 8, 16)]

    assert flows == sorted(flows)
    assert flows[0] < flows[-1] < 40.0


def test_nothing_is_expected_where_the_machine_or_what_is_open_is_not_known() -> None:
    one = replace(job(SOUND), setup=SETUP)
    emitters = np.array([0, 0, 1, 1, 2, 2, 3, 3])
    known = replace(one, readings=replace(one.readings, emitter_no=emitters))

    assert expected_l_min(replace(SETUP, machine_max_flow_l_min=None), 1) is None
    assert np.isnan(log_ratios(known)).tolist() == [True, True] + 6 * [False]
    assert np.isnan(log_ratios(replace(one, setup=Setup()))).all()
    assert log_ratios(replace(one, readings=Readings())).size == 0
