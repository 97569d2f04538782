"""Practices one can do or leave: the same plan with one of them set, all else as it was."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pipeline.contract import job_log
from synthetic_data.crew.crew import BY_THE_CLOCK_G_MIN, HEATER_KW, Engineers, Plans, at_once, worth
from synthetic_data.house.house import Flags, Houses, Ints

Value = str | int | bool
_CHOICES = {
    "isolation": job_log.ISOLATIONS,
    "heat_source": job_log.HEAT_SOURCES,
    "agitation": job_log.AGITATIONS,
    "connection": job_log.CONNECTIONS,
    "filter_fitted": job_log.FILTERS,
}
PREDOSED_DAYS = (5, 10)
"""Days of pre-dose, first and last, that count as "about a week" when jobs are told apart."""


@dataclass(frozen=True, slots=True)
class PracticePair:
    """Two ways to do one thing. `column` and the values are those of the job log, but for `yes` and `no`."""

    column: str
    with_value: Value
    without_value: Value

    @property
    def name(self) -> str:
        """`column:with|without`, as an audit names it."""
        words = (
            {True: "yes", False: "no"}.get(value, value) if isinstance(value, bool) else value
            for value in (self.with_value, self.without_value)
        )
        return f"{self.column}:{'|'.join(str(word) for word in words)}"

    @property
    def needs_flush(self) -> bool:
        """True where what is done changes the flush itself, not only what follows."""
        return self.column not in ("filter_fitted", "inhibitor_dosed")


CONTRASTS = (
    PracticePair("filter_fitted", "on_return", "none"),
    PracticePair("inhibitor_dosed", True, False),
    PracticePair("predose_days", 7, 0),
    PracticePair("isolation", "one_at_a_time", "all_open"),
    PracticePair("heat_source", "boiler", "none"),
    PracticePair("heat_source", "inline_heater", "none"),
    PracticePair("agitation", "vibration", "none"),
    PracticePair("connection", "boiler_flow_return", "emitter_valves"),
    PracticePair("flow_reversed", True, False),
)
"""Practices whose true effect can be had: the names an audit would use."""


def _index(column: str, value: Value) -> int:
    return _CHOICES[column].index(str(value))


def does(plans: Plans, column: str, value: Value) -> Flags:
    """Jobs in which that was done. Seven days of pre-dose stand for 5 to 10."""
    if column == "predose_days":
        first, last = (0, 0) if value == 0 else PREDOSED_DAYS
        return np.asarray((plans.predose_days >= first) & (plans.predose_days <= last))
    if column == "flow_reversed":
        return np.asarray(plans.reversed == value)
    if column == "inhibitor_dosed":
        return np.asarray(plans.inhibitor_dosed == value)
    return np.asarray(getattr(plans, column) == _index(column, value))


def eligible(contrast: PracticePair, had_filter: Flags) -> Flags:
    """Jobs in which both ways are open: no filter is chosen where one is fitted already."""
    return ~had_filter if contrast.column == "filter_fitted" else np.ones(len(had_filter), dtype=bool)


def with_practice(plans: Plans, column: str, value: Value, houses: Houses, staff: Engineers) -> Plans:
    """The plan of every job with that one thing done so, and what hangs on it: heater, patience."""
    jobs = len(plans.engineer)
    if column == "predose_days":
        return replace(plans, predose_days=np.full(jobs, int(value)))
    if column == "flow_reversed":
        return replace(plans, reversed=np.full(jobs, bool(value)))
    if column == "inhibitor_dosed":
        return replace(plans, inhibitor_dosed=np.full(jobs, bool(value)))
    chosen = np.full(jobs, _index(column, value))
    if column == "heat_source":
        heater = np.where(chosen >= _index(column, "inline_heater"), HEATER_KW[plans.engineer % 4], 0.0)
        return replace(plans, heat_source=chosen, heater_kw=heater)
    if column == "isolation":
        return _with_isolation(plans, chosen, houses)
    return replace(plans, **{column: chosen})


def _with_isolation(plans: Plans, chosen: Ints, houses: Houses) -> Plans:
    stay = at_once(houses, chosen) / at_once(houses, plans.isolation)
    rate = plans.leave_wet_g_min * worth(chosen) / worth(plans.isolation)
    rate = np.where(plans.leave_wet_g_min >= BY_THE_CLOCK_G_MIN, plans.leave_wet_g_min, rate)
    return replace(plans, isolation=chosen, dwell_minutes=plans.dwell_minutes * stay, leave_wet_g_min=rate)
