"""What is carried from one minute of the flush to the next, and what it leaves behind."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from synthetic_data.flush.release import CLASSES, OTHER
from synthetic_data.house.house import Flags, Floats, Ints

WHOLE_SYSTEM = -1
FLUSHING, RINSING, DONE = range(3)
MAGNET, STRAINER, MACHINE_BASE = range(3)
BY_EMITTER = frozenset(
    (
        "visits",
        "last_rate",
        "open_now",
        "shared_j_k",
        "loosen",
        "emitter_c",
        "emitter_j_k",
        "rated_w",
        "loss_w_k",
        "consolidated",
        "magnet",
        "strainer",
        "caught",
        "strainer_caught",
        "rinsed",
        "moved",
        "sand_trap",
        "sand_caught",
        "sand_rinsed",
        "sand_moved",
    )
)
"""Fields of `State` with one column an emitter (or a station)."""

BY_CLASS = frozenset(("bed", "water", "lift", "landing"))
"""Fields of `State` of shape (rows, 4 classes, 26 emitters)."""


@dataclass(slots=True)
class State:
    """Jobs being flushed (rows) and their emitters (26 columns). Masses kg dry, times min, temperatures °C.

    `row` is the place of the job in its chunk. `bed` is loose debris where it lies; `water` is carried debris by the
    emitter it was last lifted from, and so are the traps and `rinsed`. `moved` is what settled here, lifted
    elsewhere, less what was lifted here and settled elsewhere. For every emitter: before + moved = consolidated
    + loose + carried + magnet + strainer + caught + strainer_caught + rinsed.
    """

    row: Ints
    offset_min: Ints
    day: Ints
    phase: Ints
    station: Ints
    band: Ints
    is_faulty: Flags
    focus_min: Floats
    since_weigh_min: Floats
    catches: Ints
    rinse_left: Ints
    end_min: Ints
    flow_l_min: Floats
    clear_flow_l_min: Floats
    pointed_ratio: Floats
    clogged: Floats
    weeped_l: Floats
    circuit_l: Floats
    temp_c: Floats
    return_c: Floats
    chemical: Floats
    drop_turn: Floats
    visits: Ints
    last_rate: Floats
    open_now: Flags
    shared_j_k: Floats
    loosen: Floats
    emitter_c: Floats
    emitter_j_k: Floats
    rated_w: Floats
    loss_w_k: Floats
    bed: Floats
    water: Floats
    lift: Floats
    landing: Floats
    consolidated: Floats
    magnet: Floats
    strainer: Floats
    caught: Floats
    strainer_caught: Floats
    rinsed: Floats
    moved: Floats
    sand_trap: Floats
    sand_caught: Floats
    sand_rinsed: Floats
    sand_moved: Floats

    @classmethod
    def start(cls, shape: tuple[int, int], **given: Floats | Ints) -> State:
        """A state of nothing at all, but for the fields given."""
        values: dict[str, Any] = {}
        sizes: dict[str, tuple[int, ...]] = {"drop_turn": (shape[0], CLASSES)}
        sizes |= dict.fromkeys(BY_EMITTER, shape) | dict.fromkeys(BY_CLASS, (shape[0], CLASSES, shape[1]))
        for item in fields(cls):
            kind = {"Ints": np.int64, "Flags": np.bool_, "Floats": np.float64}[str(item.type)]
            values[item.name] = np.array(given.get(item.name, np.zeros(sizes.get(item.name, shape[:1]))), dtype=kind)
        return cls(**values)

    def take(self, keep: Flags | Ints) -> State:
        """The same state with those rows only."""
        return State(*(getattr(self, item.name)[keep] for item in fields(self)))

    def put(self, into: State) -> None:
        """Write these rows back to their places in the chunk's state."""
        for item in fields(self):
            getattr(into, item.name)[self.row] = getattr(self, item.name)

    @property
    def loose(self) -> Floats:
        """Loose magnetite by the emitter it lies in [kg], shape (rows, 26)."""
        return np.asarray(self.bed[:, :OTHER].sum(axis=1))

    @property
    def carried(self) -> Floats:
        """Carried magnetite by the emitter it was lifted from [kg]."""
        return np.asarray(self.water[:, :OTHER].sum(axis=1))

    @property
    def sand(self) -> Floats:
        """Non-magnetic debris by the emitter it lies in [kg]."""
        return self.bed[:, OTHER]

    @property
    def sand_carried(self) -> Floats:
        """Carried non-magnetic debris by the emitter it was lifted from [kg]."""
        return self.water[:, OTHER]


@dataclass(slots=True)
class Events:
    """Rows of weighings and readings as they happen, each a tuple of equally long arrays."""

    weighings: list[tuple[np.ndarray, ...]]
    readings: list[tuple[np.ndarray, ...]]


@dataclass(frozen=True, slots=True)
class Weighings:
    """One entry a weighing: chunk row, wall-clock minute since midnight of the first day, emitter
    (`WHOLE_SYSTEM` for none), trap, true dry mass [kg], mass as weighed wet [kg], share of it that is magnetite."""

    row: Ints
    wall_min: Ints
    focus: Ints
    trap: Ints
    dry_kg: Floats
    wet_kg: Floats
    magnetic_share: Floats


@dataclass(frozen=True, slots=True)
class Readings:
    """One entry a reading, true values: flow [L/min], temperatures [°C], clouding solids [g/L of fines], rinse state
    0..1, pressure."""

    row: Ints
    wall_min: Ints
    focus: Ints
    flow_l_min: Floats
    flow_c: Floats
    return_c: Floats
    solids_g_l: Floats
    chemical: Floats
    pressure_bar: Floats


@dataclass(frozen=True, slots=True)
class Flush:
    """The outcome of a chunk: final state, weighings, readings, start and end (wall-clock minutes)."""

    end: State
    weighings: Weighings
    readings: Readings
    start_min: Ints
    end_min: Ints
