"""Flow per emitter while a flushing machine drives a heating system: solved networks, many jobs at once.

Three shapes. **Two-pipe** (`TwoPipe`): mains with take-offs one after the other, an emitter between flow and
return at each; a microbore manifold is the same with no mains between take-offs (`manifold_mains`). **One-pipe**
(`OnePipe`): all the water goes round the loop, and each emitter takes a share from beside its stretch of loop.
**One emitter alone** (`solve_alone`) on a two-pipe system, quicker than closing the other valves.

Balance of head at every emitter, of mass at every tee, solved by Newton's method from the answer of a square
law; the linear system of a step is eliminated exactly, take-off by take-off. Water is one temperature per job.
Flows in L/min, heads in Pa, arrays jobs × emitters. Height does not matter: the circuit is closed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.physics.losses import LossLaw, Tube
from models.physics.machine import Drive, Machine
from models.physics.network_steps import ladder_start, ladder_step, loop_start, loop_step

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

HEAD_TOLERANCE = 1e-8
"""Largest head left over at any emitter, as a share of the machine's shut-off head."""

MASS_TOLERANCE = 1e-9
"""Largest flow left over at any tee, as a share of the machine's flow."""

MOST_ITERATIONS = 60
_DAMPED_AFTER = 15


class NotSolved(ArithmeticError):
    """A network whose balance did not close; the message says how many jobs and by how much."""


@dataclass(frozen=True, slots=True)
class Flows:
    """A solved network.

    `emitter_l_min` and `bypass_l_min` (jobs, emitters): through each emitter, and past it along the loop (0 on
    two-pipe systems); `total_l_min` (jobs,); `head_left` (jobs,) largest imbalance of head [share of shut-off];
    `mass_left` (jobs,) of flow [share of the total], 0 by construction
    on loops; `iterations` taken.
    """

    emitter_l_min: Floats
    bypass_l_min: Floats
    total_l_min: Floats
    head_left: Floats
    mass_left: Floats
    iterations: int


@dataclass(frozen=True, slots=True)
class TwoPipe:
    """Laws of a two-pipe system: `common` (jobs,) each, `mains` and `branches` (emitters, jobs) inside."""

    common: tuple[LossLaw, ...]
    mains: LossLaw
    branches: LossLaw

    @classmethod
    def of(cls, common: Sequence[Tube], mains: Tube, branches: Tube) -> Self:
        """From tubes: `common` (hoses, connection, mains before the first take-off) of shape (jobs,).

        `mains` (jobs, emitters): from the take-off before to this one, flow and return together; `branches`
        (jobs, emitters): both tails, valves and the emitter.
        """
        return cls(tuple(map(LossLaw.of, common)), _across(mains), _across(branches))

    def take(self, rows: Ints) -> Self:
        """The systems of those jobs."""
        return type(self)(*_take(self.common, self.mains, self.branches, rows))


@dataclass(frozen=True, slots=True)
class OnePipe:
    """Laws of a one-pipe loop: `common` (jobs,) each, `bypasses` and `branches` (emitters, jobs) inside."""

    common: tuple[LossLaw, ...]
    bypasses: LossLaw
    branches: LossLaw

    @classmethod
    def of(cls, common: Sequence[Tube], bypasses: Tube, branches: Tube) -> Self:
        """From tubes: `common` (jobs,) also holds the loop between stations.

        `bypasses` (jobs, emitters): the stretch of loop between the two tees of an emitter; `branches`
        (jobs, emitters): tees, tails, valves and the emitter.
        """
        return cls(tuple(map(LossLaw.of, common)), _across(bypasses), _across(branches))

    def take(self, rows: Ints) -> Self:
        """The systems of those jobs."""
        return type(self)(*_take(self.common, self.bypasses, self.branches, rows))


def _take(
    common: tuple[LossLaw, ...], beside: LossLaw, branches: LossLaw, rows: Ints
) -> tuple[tuple[LossLaw, ...], LossLaw, LossLaw]:
    picked = tuple(law.each(lambda values: values[rows]) for law in common)
    return picked, beside.each(lambda values: values[:, rows]), branches.each(lambda values: values[:, rows])


def _across(tube: Tube) -> LossLaw:
    """Law of runs (jobs, emitters) as (emitters, jobs): the elimination walks along emitters."""
    return LossLaw.of(tube).each(lambda values: np.ascontiguousarray(values.T))


def _check(head_left: Floats, mass_left: Floats) -> None:
    bad = (head_left > HEAD_TOLERANCE) | (mass_left > MASS_TOLERANCE) | np.isnan(head_left)
    if bad.any():
        head, mass = (np.max(np.nan_to_num(left, nan=np.inf)) for left in (head_left, mass_left))
        raise NotSolved(
            f"{int(bad.sum())} of {len(bad)} networks did not close: head {head:.1e} of the shut-off head, mass "
            f"{mass:.1e} of the flow after {MOST_ITERATIONS} iterations"
        )


def _damping(iteration: int) -> float:
    return 1.0 if iteration < _DAMPED_AFTER else 0.5


def solve_two_pipe(
    network: TwoPipe,
    machine: Machine,
    is_open: Bools,
    temp_c: ArrayLike,
    added: ArrayLike = 0.0,
    start_l_min: Floats | None = None,
) -> Flows:
    """Flow through every emitter of two-pipe (or manifold) systems.

    `is_open` (jobs, emitters): valves open (absent emitters closed); `temp_c` [°C, 0–99] and `added`
    [Pa/(L/min)²] (a filling strainer) per job; `start_l_min` (jobs, emitters): a nearby solution. NotSolved
    where the balance stays open.
    """
    drive = Drive.of(machine, network.common, temp_c, added)
    opened = np.ascontiguousarray(np.broadcast_to(is_open, network.branches.velocity.shape[::-1]).T)
    squares = (network.mains.square_law(drive.density), network.branches.square_law(drive.density))
    if start_l_min is None:
        flow = ladder_start(machine.shutoff_pa, drive.square, *squares, opened)
    else:
        flow = np.where(opened, start_l_min.T, 0.0)
    total, mass_left = flow.sum(axis=0), np.zeros(len(machine.fall))
    for iteration in range(MOST_ITERATIONS):
        through = np.cumsum(flow[::-1], axis=0)[::-1]
        branch, mains = drive.losses(network.branches, flow), drive.losses(network.mains, through)
        source = drive.at(through[0])
        left = source.value - np.cumsum(mains.loss, axis=0) - branch.loss
        head_left = np.abs(np.where(opened, left, 0.0)).max(axis=0) / machine.shutoff_pa
        if head_left.max(initial=0.0) <= HEAD_TOLERANCE and iteration:
            break
        new, total = ladder_step(source, mains, branch, flow, through, opened)
        mass_left = np.abs(total - new.sum(axis=0)) / np.maximum(total, 1e-9)
        flow = flow + _damping(iteration) * (new - flow)
    _check(head_left, mass_left)
    return Flows(flow.T.copy(), np.zeros(flow.T.shape), flow.sum(axis=0), head_left, mass_left, iteration)


def solve_one_pipe(
    network: OnePipe, machine: Machine, is_open: Bools, temp_c: ArrayLike, added: ArrayLike = 0.0
) -> Flows:
    """Flow through every emitter of one-pipe loops, and past it; arguments as in `solve_two_pipe`.

    Closing the other valves does not stop the loop: it always carries the whole flow.
    """
    drive = Drive.of(machine, network.common, temp_c, added)
    opened = np.ascontiguousarray(np.broadcast_to(is_open, network.branches.velocity.shape[::-1]).T)
    squares = (network.bypasses.square_law(drive.density), network.branches.square_law(drive.density))
    flow, total = loop_start(machine.shutoff_pa, drive.square, *squares, opened)
    for iteration in range(MOST_ITERATIONS):
        branch, bypass = drive.losses(network.branches, flow), drive.losses(network.bypasses, total - flow)
        source = drive.at(total)
        uneven = np.where(opened, branch.loss - bypass.loss, 0.0)
        round_left = source.value - bypass.loss.sum(axis=0)
        head_left = np.maximum(np.abs(uneven).max(axis=0), np.abs(round_left)) / machine.shutoff_pa
        if head_left.max(initial=0.0) <= HEAD_TOLERANCE and iteration:
            break
        step, total_step = loop_step(source, bypass, branch, uneven, opened)
        flow, total = flow + _damping(iteration) * step, total + _damping(iteration) * total_step
    past = total - flow
    mass_left = np.abs(past + flow - total).max(axis=0) / np.maximum(total, 1e-9)
    _check(head_left, mass_left)
    return Flows(flow.T.copy(), past.T.copy(), total, head_left, mass_left, iteration)


def solve_alone(network: TwoPipe, machine: Machine, emitter: Ints, temp_c: ArrayLike, added: ArrayLike = 0.0) -> Floats:
    """Flow [L/min] per job (jobs,) through one emitter of a two-pipe system, all other valves shut.

    `emitter` (jobs,): its place along the mains, from 0. The same answer as `solve_two_pipe` with one valve
    open, to 1e-7 of the flow. NotSolved where the balance stays open.
    """
    drive = Drive.of(machine, network.common, temp_c, added)
    jobs, places = np.arange(len(emitter)), np.asarray(emitter, dtype=np.intp)
    owner = np.repeat(jobs, places + 1)
    first = np.cumsum(places + 1) - (places + 1)
    segment = np.arange(len(owner)) - first[owner]
    mains = network.mains.each(lambda values: values[segment, owner])
    branch = network.branches.each(lambda values: values[places, jobs])
    water, own_water = (drive.density[owner], drive.viscosity[owner]), (drive.density, drive.viscosity)
    path = np.add.reduceat(mains.square_law(water[0]), first) + branch.square_law(drive.density)
    flow = np.sqrt(machine.shutoff_pa / (drive.square + path))
    for iteration in range(MOST_ITERATIONS):
        source, (loss, slope) = drive.at(flow), branch.loss(flow, *own_water)
        along, steep = mains.loss(flow[owner], *water)
        left = source.value - loss - np.add.reduceat(along, first)
        head_left = np.abs(left) / machine.shutoff_pa
        if head_left.max(initial=0.0) <= HEAD_TOLERANCE:
            break
        stiff = slope + np.add.reduceat(steep, first) - source.slope
        flow = flow + _damping(iteration) * left / stiff
    _check(head_left, np.zeros(len(flow)))
    return flow
