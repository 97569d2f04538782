"""What a watch is told of readings and of how a job is set up, for its warnings."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from models.catch.records.ragged_arrays import Floats
from models.quantiles import Quantiles

Ints = NDArray[np.int64]
WHOLE = 0
"""Emitter number that stands for the whole system."""


def _none() -> Floats:
    return np.empty(0)


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Readings in order of time, shape (readings,) each, NaN where one was not taken.

    `minutes` are flush minutes; `emitter_no` is 0 where the whole system had the flow; `water_c` is the mean of
    flow and return, or the one of the two that was read.
    """

    minutes: Floats = field(default_factory=_none)
    emitter_no: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    flow_l_min: Floats = field(default_factory=_none)
    water_c: Floats = field(default_factory=_none)
    turbidity_ntu: Floats = field(default_factory=_none)
    pressure_bar: Floats = field(default_factory=_none)

    def until(self, minutes: float) -> Readings:
        """The readings taken by that flush minute; the tolerance of a second keeps one made at that moment."""
        known = int(np.searchsorted(self.minutes, minutes + 1.0 / 60.0, side="right"))
        return Readings(*(getattr(self, name)[:known] for name in self.__slots__))


NO_READINGS = Readings()


@dataclass(frozen=True, slots=True)
class Setup:
    """How the job is set up and what was expected of it; None where it is not known.

    `machine_max_flow_l_min` with hoses joined [L/min]; `volume_l` middle of the system volume [L]; `expected_kg`
    and `expected_minutes` are the quote's distribution of dry magnetite and its middle flush time. `pipe_layout`,
    `isolation` and `connection` are the job log's; `hose_m` each way, `main_bore_mm` and the smallest tail as sold;
    `thermostatic_share` of the emitters' valves; `has_open_tank`: the machine's tank is open to the air.
    """

    system_type: str = ""
    machine_max_flow_l_min: float | None = None
    volume_l: float | None = None
    expected_kg: Quantiles | None = None
    expected_minutes: float | None = None
    isolation: str = ""
    connection: str = ""
    hose_m: float | None = None
    hose_bore_mm: float | None = None
    main_bore_mm: float | None = None
    tail_bore_mm: float | None = None
    pipe_layout: str = ""
    thermostatic_share: float | None = None
    has_antifreeze: bool = False
    has_open_tank: bool = False
