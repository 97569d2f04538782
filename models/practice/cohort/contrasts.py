"""The practices that are weighed up: two ways to do one thing, named `column:with|without`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Flags = NDArray[np.bool_]
Spent = Literal["filter", "inhibitor", "cleaner", "minutes"]


@dataclass(frozen=True, slots=True)
class Contrast:
    """One way against another; jobs that did neither take no part. `label` are words for a figure.

    `spent` says what the practice costs, `needs_flush` whether it can change the minutes on site. A range (low, high)
    in `with_range` replaces the one value that gives the contrast its name.
    """

    column: str
    with_value: str
    without_value: str
    label: str
    spent: Spent
    with_range: tuple[float, float] | None = None

    @property
    def name(self) -> str:
        """`column:with|without`."""
        return f"{self.column}:{self.with_value}|{self.without_value}"

    @property
    def needs_flush(self) -> bool:
        """True where it is done during the flush or before it, and so may change the time on site."""
        return self.spent in ("minutes", "cleaner")


ABOUT_A_WEEK = (5.0, 10.0)
"""Days of pre-dose that count as a week."""

CONTRASTS: tuple[Contrast, ...] = (
    Contrast("filter_fitted", "on_return", "none", "Filter fitted on the return", "filter"),
    Contrast("filter_fitted", "on_flow", "none", "Filter fitted on the flow", "filter"),
    Contrast("inhibitor_dosed", "yes", "no", "Inhibitor dosed at the end", "inhibitor"),
    Contrast("predose_days", "7", "0", "Pre-dose of about a week", "cleaner", ABOUT_A_WEEK),
    Contrast("isolation", "one_at_a_time", "all_open", "One emitter at a time, not all open", "minutes"),
    Contrast("isolation", "groups", "all_open", "Groups of emitters, not all open", "minutes"),
    Contrast("heat_source", "boiler", "none", "Boiler heat, not cold", "minutes"),
    Contrast("heat_source", "inline_heater", "none", "Inline heater, not cold", "minutes"),
    Contrast("heat_source", "both", "none", "Boiler and heater, not cold", "minutes"),
    Contrast("agitation", "vibration", "none", "Vibration", "minutes"),
    Contrast("agitation", "valve_bounce", "none", "Valve bounce", "minutes"),
    Contrast("agitation", "both", "none", "Vibration and valve bounce", "minutes"),
    Contrast("connection", "boiler_flow_return", "emitter_valves", "Joined at heat source, not at valves", "minutes"),
    Contrast("connection", "pump_tails", "emitter_valves", "Joined at the pump, not at valves", "minutes"),
    Contrast("flow_reversed", "yes", "no", "Flow reversed", "minutes"),
    Contrast("half_drained_emitters", "some", "0", "Emitters flushed half drained", "minutes", (1.0, np.inf)),
    Contrast("strainer_checked", "yes", "no", "Strainer and machine base looked at", "minutes"),
)
"""Fixed before any outcome is looked at: all of them count when chance findings are controlled."""

BY_NAME: Mapping[str, Contrast] = {each.name: each for each in CONTRASTS}


def done(contrast: Contrast, frame: pd.DataFrame) -> tuple[Flags, Flags]:
    """Jobs (n,) that did it the one way, and the other. Not known is neither."""
    values = frame[contrast.column]
    if contrast.with_range is not None:
        number = np.asarray(pd.to_numeric(values, errors="coerce").to_numpy(dtype=float, na_value=np.nan))
        low, high = contrast.with_range
        with np.errstate(invalid="ignore"):
            return np.asarray((number >= low) & (number <= high)), np.asarray(number == 0)
    words: Mapping[str, object] = {"yes": True, "no": False}
    first, second = (words.get(value, value) for value in (contrast.with_value, contrast.without_value))
    return _equal(values, first), _equal(values, second)


def _equal(values: pd.Series, value: object) -> Flags:
    return np.asarray((values == value).fillna(False), dtype=bool)


PRACTICES: Mapping[str, tuple[str, ...]] = {
    "filter_fitted": ("none", "on_return", "on_flow", "already_there"),
    "inhibitor_dosed": (),
    "predose_days": (),
    "isolation": ("all_open", "groups", "one_at_a_time"),
    "heat_source": ("none", "boiler", "inline_heater", "both"),
    "agitation": ("none", "valve_bounce", "vibration", "both"),
    "connection": ("emitter_valves", "emitter_tails", "pump_tails", "boiler_flow_return", "microbore_tails"),
    "flow_reversed": (),
    "half_drained_emitters": (),
    "strainer_checked": (),
    "crew_size": (),
}
"""What is decided about a job, with the words of the log; empty for amounts and yes or no."""
