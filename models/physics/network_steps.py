"""Starts and Newton steps of the two networks in `hydraulics`: arrays emitters × jobs, plain elimination.

A ladder (two-pipe): emitter k hangs between the nodes at the end of mains segment k. Seen from the machine, all
that hangs behind a node draws `conductance` · head − `offset`; folding the ladder from its far end gives the total,
unfolding it gives every flow. A loop (one-pipe): each emitter's balance knows only its own flow and the
loop's, so the emitters are eliminated one by one.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_LEAST_SLOPE = 1e-6
_LEAST_RESISTANCE = 1e-12


class Linear(NamedTuple):
    """A head at the present flow and how it changes with it: `value` [Pa], `slope` [Pa/(L/min)]."""

    value: Floats
    slope: Floats


class Losses(NamedTuple):
    """Losses at the present flows [Pa] and their slopes [Pa/(L/min)]."""

    loss: Floats
    slope: Floats


def ladder_start(shutoff_pa: Floats, before: Floats, mains: Floats, branches: Floats, opened: Bools) -> Floats:
    """Emitter flows [L/min] if every loss were resistance · flow²; resistances in Pa/(L/min)²."""
    own = opened / np.sqrt(np.maximum(branches, _LEAST_RESISTANCE))
    behind, seen = np.zeros_like(own), np.zeros(own.shape[1])
    for k in range(len(own) - 1, -1, -1):
        seen = seen + own[k]
        seen = seen / np.sqrt(1.0 + mains[k] * seen**2)
        behind[k] = seen
    head = shutoff_pa / (1.0 + before * seen**2)
    flow = np.zeros_like(own)
    for k in range(len(own)):
        head = head * (1.0 - mains[k] * behind[k] ** 2)
        flow[k] = own[k] * np.sqrt(head)
    return flow


def ladder_step(
    source: Linear, mains: Losses, branch: Losses, flow: Floats, through: Floats, opened: Bools
) -> tuple[Floats, Floats]:
    """Flows (emitters, jobs) and total (jobs,) [L/min] that balance the losses linearised at the present flows."""
    own = opened / np.maximum(branch.slope, _LEAST_SLOPE)
    rest = branch.loss - branch.slope * flow
    segment = mains.loss - mains.slope * through
    behind, offset = np.zeros_like(flow), np.zeros_like(flow)
    conductance, shift = np.zeros(flow.shape[1]), np.zeros(flow.shape[1])
    for k in range(len(flow) - 1, -1, -1):
        conductance, shift = conductance + own[k], shift + own[k] * rest[k]
        share = 1.0 / (1.0 + conductance * mains.slope[k])
        conductance, shift = conductance * share, (shift + conductance * segment[k]) * share
        behind[k], offset[k] = conductance, shift
    base = source.value - source.slope * through[0]
    total = (conductance * base - shift) / (1.0 - conductance * source.slope)
    head, new = base + source.slope * total, np.zeros_like(flow)
    for k in range(len(flow)):
        head = head - segment[k] - mains.slope[k] * (behind[k] * head - offset[k])
        new[k] = own[k] * (head - rest[k])
    return new, total


def loop_start(
    shutoff_pa: Floats, before: Floats, bypasses: Floats, branches: Floats, opened: Bools
) -> tuple[Floats, Floats]:
    """Emitter flows (emitters, jobs) and loop flow (jobs,) [L/min] if every loss were resistance · flow²."""
    past, beside = np.sqrt(bypasses), np.sqrt(np.maximum(branches, _LEAST_RESISTANCE))
    share = np.where(opened, past / (past + beside), 0.0)
    total = np.sqrt(shutoff_pa / (before + (bypasses * (1.0 - share) ** 2).sum(axis=0)))
    return share * total, total


def loop_step(source: Linear, bypass: Losses, branch: Losses, uneven: Floats, opened: Bools) -> tuple[Floats, Floats]:
    """Changes of emitter flows (emitters, jobs) and of the loop's flow (jobs,) [L/min] in one Newton step.

    `uneven` [Pa]: loss through the emitter less loss past it.
    """
    own = opened / np.maximum(branch.slope + bypass.slope, _LEAST_SLOPE)
    gap = source.value - bypass.loss.sum(axis=0) - (bypass.slope * own * uneven).sum(axis=0)
    stiff = -source.slope + (bypass.slope * (1.0 - bypass.slope * own)).sum(axis=0)
    total_step = gap / np.maximum(stiff, _LEAST_SLOPE)
    return own * (bypass.slope * total_step - uneven), total_step
