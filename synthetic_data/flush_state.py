"""What is carried from one minute of the flush to the next, and what it leaves behind."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from synthetic_data.house import Flags, Floats, Ints

WHOLE_SYSTEM = -1
FLUSHING, RINSING, DONE = range(3)
MAGNET, STRAINER, MACHINE_BASE = range(3)
BY_EMITTER = frozenset((
    "visits", "last_rate", "open_now", "branch_l_min", "lift", "loosen", "emitter_c", "loose", "consolidated",
    "carried", "magnet", "strainer", "caught", "strainer_caught", "rinsed", "sand", "sand_carried", "sand_trap",
    "sand_caught", "sand_rinsed",
))  # fmt: skip
"""Fields of `State` with one column an emitter (or a station)."""


@dataclass(slots=True)
class State:
    """Jobs being flushed (rows) and their emitters (26 columns). Masses kg dry, times min, temperatures °C.

    `row` is the place of the job in its chunk. Pools are held by the emitter the debris came from,
    so that what went in can be found again emitter by emitter.
    """

    row: Ints
    offset_min: Ints
    day: Ints
    phase: Ints
    station: Ints
    focus_min: Floats
    since_weigh_min: Floats
    catches: Ints
    rinse_left: Ints
    end_min: Ints
    flow_l_min: Floats
    clear_flow_l_min: Floats
    circuit_l: Floats
    temp_c: Floats
    return_c: Floats
    chemical: Floats
    visits: Ints
    last_rate: Floats
    open_now: Flags
    branch_l_min: Floats
    lift: Floats
    loosen: Floats
    emitter_c: Floats
    loose: Floats
    consolidated: Floats
    carried: Floats
    magnet: Floats
    strainer: Floats
    caught: Floats
    strainer_caught: Floats
    rinsed: Floats
    sand: Floats
    sand_carried: Floats
    sand_trap: Floats
    sand_caught: Floats
    sand_rinsed: Floats

    @classmethod
    def start(cls, shape: tuple[int, int], **given: Floats | Ints) -> State:
        """A state of nothing at all, but for the fields given."""
        values: dict[str, Any] = {}
        for item in fields(cls):
            size = shape if item.name in BY_EMITTER else shape[:1]
            kind = {"Ints": np.int64, "Flags": np.bool_, "Floats": np.float64}[str(item.type)]
            values[item.name] = np.array(given.get(item.name, np.zeros(size)), dtype=kind)
        return cls(**values)

    def take(self, keep: Flags | Ints) -> State:
        """The same state with those rows only."""
        return State(*(getattr(self, item.name)[keep] for item in fields(self)))

    def put(self, into: State) -> None:
        """Write these rows back to their places in the chunk's state."""
        for item in fields(self):
            getattr(into, item.name)[self.row] = getattr(self, item.name)


@dataclass(slots=True)
class Events:
    """Rows of weighings and readings as they happen, each a tuple of equally long arrays."""

    weighings: list[tuple[Ints, ...]]
    readings: list[tuple[np.ndarray, ...]]


@dataclass(frozen=True, slots=True)
class Weighings:
    """One entry a weighing: chunk row, wall-clock minute since midnight of the first day, emitter
    (`WHOLE_SYSTEM` for none), trap, true dry mass [kg], mass as weighed wet [kg]."""

    row: Ints
    wall_min: Ints
    focus: Ints
    trap: Ints
    dry_kg: Floats
    wet_kg: Floats


@dataclass(frozen=True, slots=True)
class Readings:
    """One entry a reading, true values: flow [L/min], temperatures [°C], solids [g/L], rinse state 0..1."""

    row: Ints
    wall_min: Ints
    focus: Ints
    flow_l_min: Floats
    flow_c: Floats
    return_c: Floats
    solids_g_l: Floats
    chemical: Floats


@dataclass(frozen=True, slots=True)
class Flush:
    """The outcome of a chunk: final state, weighings, readings, start and end (wall-clock minutes)."""

    end: State
    weighings: Weighings
    readings: Readings
    start_min: Ints
    end_min: Ints
