"""Flows of a flush: machine, hoses, connection, mains, tails and emitters as networks, solved once a configuration.

A configuration is what is open: the station an emitter belongs to, or everything (rinse). Each is solved
in three temperature bands, and once more where a planted defect changes the network.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.physics import circuit_parts, hydraulics, losses
from models.physics.machine import Machine
from models.physics.pipes import COPPER_ROUGHNESS_MM, kv_resistance
from pipeline.contract.job_log import CONNECTIONS
from synthetic_data.crew.crew import Engineers, Plans
from synthetic_data.flush.defects import Defects
from synthetic_data.house.house import MOST_EMITTERS, ONE_PIPE, Flags, Floats, Houses, Ints
from synthetic_data.house.system import Systems
from synthetic_data.parameters import Parameters

BAND_C = np.array([22.0, 39.5, 57.0])
"""Water temperature that stands for each band [°C]. The outer two are solved, the middle one is their mean."""

BAND_EDGES_C = np.array([31.0, 48.5])
STATION, ALL = 0, 1
STEEL_ROUGHNESS_MM = 0.046
"""New steel tube; the value of the usual friction tables."""
ANTIFREEZE_K = 25.0
"""Antifreeze flows as water so much colder does: 1.6 to 1.8 times as viscous, a quarter of glycol (from memory)."""
_LEAST_HEAD_SHARE = 0.15
"""The machine loses at least this share of its head inside itself when the hoses are joined (assumption)."""


@dataclass(frozen=True, slots=True)
class Flows:
    """Solved flows [L/min]. Rows: the chunk's jobs, then once more those whose defect changes the network.

    `branch` (band, 2, rows, emitters): through each emitter while its own station is open (0) or everything (1);
    `total` (band, rows, stations + 1): through the machine, last column everything open; `faulty_row` (jobs,)
    row after the defect has set in; `job` (rows,) job of each row.
    """

    branch: Floats
    total: Floats
    faulty_row: Ints
    job: Ints


@dataclass(frozen=True, slots=True)
class Circuits:
    """The networks of the rows of `Flows`, ready to solve; `bypass_open` (rows,), `added` [Pa/(L/min)²] (rows,).

    Both shapes of network hold every row, so that rows need no second numbering.
    """

    two_pipe: hydraulics.TwoPipe
    one_pipe: hydraulics.OnePipe
    machine: Machine
    is_loop: Flags
    bypass_open: Flags
    added: Floats
    colder_k: Floats

    def flows_as_c(self, temp_c: float, rows: Ints) -> Floats:
        """Temperature of the plain water that flows as the water of those rows does."""
        return np.asarray(np.maximum(temp_c - self.colder_k[rows], 1.0))


def half_drained_mask(houses: Houses, plans: Plans) -> Flags:
    """The longest emitters of a house are the ones that are half drained (jobs, 26)."""
    by_length = np.argsort(np.argsort(np.where(houses.present, -houses.length_mm, np.inf), axis=1), axis=1)
    return np.asarray(by_length < plans.half_drained[:, None])


def _with_bypass(tube: losses.Tube, first: losses.Tube) -> losses.Tube:
    """One more column at the front: the open way past all emitters."""
    names = ("length_m", "bore_mm", "minor_k", "kv_m3_h", "roughness_mm")
    return losses.Tube(*(np.hstack([getattr(first, name), getattr(tube, name)]) for name in names))


def _machine(plans: Plans, staff: Engineers, head_kpa: float) -> tuple[Machine, losses.Tube]:
    e = plans.engineer
    hoses = circuit_parts.hoses(len(e), 2.0 * staff.hose_m[e], staff.hose_bore_mm[e])
    flow = staff.machine_l_min[e]
    lost, _ = losses.LossLaw.of(hoses).loss(flow, np.full(len(e), 998.0), np.full(len(e), 1.0e-3))
    shutoff = np.maximum(head_kpa * 1000.0, lost / (1.0 - _LEAST_HEAD_SHARE))
    return Machine.of(flow, shutoff, lost), hoses


def build_circuits(
    houses: Houses, systems: Systems, plans: Plans, staff: Engineers, parameters: Parameters, defects: Defects
) -> tuple[Circuits, Ints, Ints]:
    """Networks of all rows, the row of each job after its defect, and the job of each row."""
    machine, hoses = _machine(plans, staff, parameters.flush.machine_head_kpa)
    jobs = len(plans.engineer)
    one = np.ones((jobs, 1))
    connection = circuit_parts.connections(np.array(CONNECTIONS)[plans.connection])
    bore, house = systems.main_bore_mm, parameters.house
    rough_mm = np.where(houses.is_steel, STEEL_ROUGHNESS_MM, COPPER_ROUGHNESS_MM)
    source_run = circuit_parts.mains(systems.source_run_m, bore, rough_mm)
    drained = half_drained_mask(houses, plans)
    valves = circuit_parts.emitter_kv_m3_h(houses.thermostatic.astype(np.float64)) * houses.valve_factor
    branches = circuit_parts.tails(systems.tail_m, systems.tail_bore_mm, valves, half_drained=drained)
    mains = circuit_parts.mains(systems.take_off_m, bore[:, None], rough_mm[:, None])
    bypass_kv = np.where(defects.bypass_kv_m3_h > 0, defects.bypass_kv_m3_h, 1.0)
    bypass = losses.Tube.of(0.5 * one, 20.0, 0.0, bypass_kv[:, None])
    beside = losses.Tube.of(
        np.where(houses.present, systems.take_off_m, 0.0),
        bore[:, None],
        np.where(houses.present, house.loop_fitting_k, 0.0),
    )
    no_main = losses.Tube.of(0.0 * one, 20.0)
    common = (hoses, connection, source_run)
    changed = np.flatnonzero(defects.changes_flow)
    job, faulty_row = np.concatenate([np.arange(jobs), changed]), np.arange(jobs)
    faulty_row[changed] = jobs + np.arange(len(changed))
    is_faulty = np.arange(len(job)) >= jobs
    return (
        Circuits(
            hydraulics.TwoPipe.of(common, _with_bypass(mains, no_main), _with_bypass(branches, bypass)).take(job),
            hydraulics.OnePipe.of(common, beside, branches).take(job),
            machine.take(job),
            houses.layout[job] == ONE_PIPE,
            is_faulty & (defects.bypass_kv_m3_h[job] > 0),
            np.where(is_faulty, kv_resistance(defects.connection_kv_m3_h[job]), 0.0),
            np.where(houses.antifreeze[job], ANTIFREEZE_K, 0.0),
        ),
        faulty_row,
        job,
    )


def solve_open(circuits: Circuits, rows: Ints, opened: Flags, temp_c: float) -> tuple[Floats, Floats]:
    """Flow through each emitter and through the machine [L/min], for those rows with those emitters open."""
    flow, total = np.zeros(opened.shape), np.zeros(len(rows))
    loop = circuits.is_loop[rows]
    for chosen, is_loop in ((np.flatnonzero(~loop), False), (np.flatnonzero(loop), True)):
        if len(chosen) == 0:
            continue
        at = rows[chosen]
        machine, added, as_c = circuits.machine.take(at), circuits.added[at], circuits.flows_as_c(temp_c, at)
        if is_loop:
            found = hydraulics.solve_one_pipe(circuits.one_pipe.take(at), machine, opened[chosen], as_c, added)
            flow[chosen] = found.emitter_l_min
        else:
            ways = np.column_stack([circuits.bypass_open[at], opened[chosen]])
            found = hydraulics.solve_two_pipe(circuits.two_pipe.take(at), machine, ways, as_c, added)
            flow[chosen] = found.emitter_l_min[:, 1:]
        total[chosen] = found.total_l_min
    return flow, total


def _solve_single(circuits: Circuits, rows: Ints, emitter: Ints, temp_c: float) -> tuple[Floats, Floats]:
    """The same for one emitter open (rows,): its flow and the machine's."""
    flow, total = np.zeros(len(rows)), np.zeros(len(rows))
    plain = ~(circuits.is_loop | circuits.bypass_open)[rows]
    at = rows[plain]
    if len(at):
        two_pipe = circuits.two_pipe.take(at)
        flow[plain] = hydraulics.solve_alone(
            two_pipe, circuits.machine.take(at), emitter[plain] + 1, circuits.flows_as_c(temp_c, at), circuits.added[at]
        )
        total[plain] = flow[plain]
    other = np.flatnonzero(~plain)
    if len(other):
        opened = np.arange(MOST_EMITTERS)[None, :] == emitter[other, None]
        through, total[other] = solve_open(circuits, rows[other], opened, temp_c)
        flow[other] = through[np.arange(len(other)), emitter[other]]
    return flow, total


def solve_flows(
    circuits: Circuits, faulty_row: Ints, job: Ints, present: Flags, station_of: Ints, stations: Ints
) -> Flows:
    """Solve every configuration that can come up, in every band."""
    rows, bands, last = len(job), len(BAND_C), len(BAND_C) - 1
    branch = np.zeros((bands, 2, rows, MOST_EMITTERS))
    total = np.zeros((bands, rows, MOST_EMITTERS + 1))
    here, station = present[job], station_of[job]
    size = np.array(
        [np.bincount(line[seen], minlength=MOST_EMITTERS) for line, seen in zip(station, here, strict=True)]
    )
    single_row, single_station = np.nonzero(size == 1)
    several_row, several_station = np.nonzero((size > 1) & (stations[job][:, None] > 1))
    emitter = np.argmax((station[single_row] == single_station[:, None]) & here[single_row], axis=1)
    opened = (station[several_row] == several_station[:, None]) & here[several_row]
    whole = np.flatnonzero((stations[job] == 1) & (size[:, 0] > 1))
    for band, temp_c in ((0, BAND_C[0]), (last, BAND_C[last])):
        branch[band, ALL], total[band, :, -1] = solve_open(circuits, np.arange(rows), here, temp_c)
        flow, through = _solve_single(circuits, single_row, emitter, temp_c)
        branch[band, STATION, single_row, emitter], total[band, single_row, single_station] = flow, through
        if len(several_row):
            flow, through = solve_open(circuits, several_row, opened, temp_c)
            at, which = np.nonzero(opened)
            branch[band, STATION, several_row[at], which] = flow[at, which]
            total[band, several_row, several_station] = through
        branch[band, STATION, whole], total[band, whole, 0] = branch[band, ALL, whole], total[band, whole, -1]
    branch[1:last], total[1:last] = 0.5 * (branch[0] + branch[last]), 0.5 * (total[0] + total[last])
    return Flows(branch, total, faulty_row, job)
