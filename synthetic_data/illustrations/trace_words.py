"""A traced job in words: the house, what the crew planned, and what happened when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from pipeline.contract import job_log
from pipeline.contract.nights import is_night
from pipeline.contract.units import G_PER_KG
from synthetic_data.crew.crew import BY_THE_CLOCK_G_MIN
from synthetic_data.flush.faults import FAULTS, NONE
from synthetic_data.flush.flush_state import RINSING, WHOLE_SYSTEM
from synthetic_data.flush.moves import DAY_MINUTES
from synthetic_data.house.house import Ints
from synthetic_data.illustrations.trace import JobTrace

_HEAT = {"boiler": "the boiler", "inline_heater": "an inline heater", "both": "the boiler and an inline heater"}
_FITTED = {
    "none": "no filter",
    "already_there": "the filter that was there",
    "on_return": "a filter on the return",
    "on_flow": "a filter on the flow",
}
_ANY_DAY = datetime(2031, 3, 3)
"""A midnight to count minutes of the clock from: the rule of nights asks for times."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened: flush minute, wall clock [min since midnight of the first day], kind, sentence.

    `kind` is one of `weighing`, `focus`, `lunch`, `night`, `fault`, `rinse`, `end`; `dry_kg` that of a weighing, else
    nought.
    """

    minute: int
    clock_min: int
    kind: str
    words: str
    dry_kg: float = 0.0


def _plain(word: str) -> str:
    named = {"open_vented": "open-vented", "boiler_flow_return": "boiler flow and return"}
    return named.get(word, word.replace("_pipe", "-pipe").replace("_", " "))


def house_words(trace: JobTrace) -> tuple[str, ...]:
    """House, system, and its sludge as nobody on site can know it, a sentence each."""
    s, n = trace.setting, len(trace.emitter_kind)
    h, f = s.houses, s.fouling
    kind = _plain("open_vented" if h.vented[0] else "sealed")
    before, other = float(f.magnetite_kg[0]), float(trace.other_before_kg.sum())
    baked = float(trace.consolidated_before_kg.sum()) / max(before, 1e-9)
    return (
        f"{_plain(job_log.PROPERTY_KINDS[h.property_kind[0]]).capitalize()} with {n} emitters, {kind}, "
        f"{_plain(job_log.PIPE_LAYOUTS[h.layout[0]])}, {s.systems.volume_l[0]:.0f} L, {h.age_years[0]} years old.",
        f"In it {before:.2f} kg of magnetite, {100 * baked:.0f} % of it baked on, and {other:.2f} kg of other debris.",
    )


def plan_words(trace: JobTrace) -> tuple[str, ...]:
    """What the crew made up its mind to do, a sentence each."""
    p, staff, e = trace.plans, trace.setting.staff, int(trace.plans.engineer[0])
    days, heat = int(p.predose_days[0]), job_log.HEAT_SOURCES[p.heat_source[0]]
    chemical = f"{days} days before the visit" if days else "on the day"
    warm = "No heat" if heat == "none" else f"Heat by {_HEAT.get(heat, _plain(heat))}, set to {p.set_point_c[0]:.0f} °C"
    shake = job_log.AGITATIONS[p.agitation[0]]
    leave = float(p.leave_wet_g_min[0])
    moves = (
        "goes by the clock"
        if leave >= BY_THE_CLOCK_G_MIN
        else f"moves on when a minute brings less than {leave:.1f} g wet"
    )
    extras = [
        text
        for text, has in (
            ("half drains the longest emitters", p.half_drained[0] > 0),
            ("reverses the flow", p.reversed[0]),
            ("looks into strainer and machine base", p.strainer_checked[0]),
            ("leaves inhibitor in", p.inhibitor_dosed[0]),
        )
        if has
    ]
    return (
        f"Looks {100 * trace.setting.survey.looks_bad[0]:.0f} out of 100 bad at survey; "
        f"{'one person' if p.crew_size[0] == 1 else 'two people'}.",
        f"Chemical in {chemical}, {p.dose_ratio[0]:.1f} times the label dose.",
        f"{warm}; hoses at {_plain(job_log.CONNECTIONS[p.connection[0]])}, machine {staff.machine_l_min[e]:.0f} L/min.",
        f"{_plain(job_log.ISOLATIONS[p.isolation[0]]).capitalize()}; agitation: {_plain(shake)}.",
        f"Cleans the magnet every {p.weigh_minutes[0]:.0f} min or when it seems full, {moves}.",
        f"{', '.join(extras).capitalize() or 'Nothing further'}; "
        f"leaves {_FITTED[job_log.FILTERS[p.filter_fitted[0]]]} in the system.",
    )


def events(trace: JobTrace) -> tuple[Event, ...]:
    """Everything that happened, in order of time."""
    found = [*_weighings(trace), *_focus(trace), *_breaks(trace), *_fault(trace)]
    rinses = np.flatnonzero(trace.phase == RINSING)
    if len(rinses):
        found.append(_at(trace, int(rinses[0]), "rinse", "rinse with mains water, all open"))
    found.append(_at(trace, len(trace.minutes) - 1, "end", "flow off"))
    return tuple(sorted(found, key=lambda event: (event.minute, event.kind == "end")))


def _at(trace: JobTrace, minute: int, kind: str, words: str, dry_kg: float = 0.0) -> Event:
    return Event(minute, int(trace.clock_min[minute]), kind, words, dry_kg)


def flush_minute(trace: JobTrace, clock_min: Ints) -> Ints:
    """Flush minute of moments on the wall clock, 0 before the flow begins."""
    return np.maximum(np.searchsorted(trace.clock_min, clock_min, side="right") - 1, 0)


def _weighings(trace: JobTrace) -> list[Event]:
    w, out = trace.weighings, []
    for minute, on, trap, dry, wet in zip(
        flush_minute(trace, w.wall_min), w.focus, w.trap, w.dry_kg, w.wet_kg, strict=True
    ):
        where = "" if on == WHOLE_SYSTEM else f", flow on emitter {on + 1}"
        grams = f"{G_PER_KG * dry:.0f} g dry, weighed {G_PER_KG * wet:.0f} g wet"
        out.append(_at(trace, int(minute), "weighing", f"{_plain(job_log.TRAPS[trap])}: {grams}{where}", float(dry)))
    return out


def _focus(trace: JobTrace) -> list[Event]:
    """The flow is pointed elsewhere: from the minute after it was decided."""
    on = trace.focus_emitter_no
    turned = np.flatnonzero((on[2:] != on[1:-1]) & (on[2:] > 0)) + 2
    first = [1] if len(on) > 1 and on[1] > 0 else []
    return [_at(trace, m, "focus", f"flow on emitter {on[m]} alone") for m in (*first, *turned.tolist())]


def _breaks(trace: JobTrace) -> list[Event]:
    p, clock = trace.plans, trace.clock_min
    out = []
    times = [_ANY_DAY + timedelta(minutes=int(minute)) for minute in clock]
    for evening, (before, after) in enumerate(pairwise(times)):
        if not is_night(before, after):
            continue
        out.append(_at(trace, int(evening), "night", "home for the night, flow off"))
    if p.lunch_minutes[0] > 0:
        for day in range(int(clock[-1]) // DAY_MINUTES + 1):
            at = day * DAY_MINUTES + int(p.lunch_at_min[0])
            minute = int(np.searchsorted(clock, at))
            if minute < len(clock) and clock[minute] == at:
                words = f"lunch, {int(p.lunch_minutes[0])} min, the machine runs on"
                out.append(_at(trace, minute, "lunch", words))
    return out


def _fault(trace: JobTrace) -> list[Event]:
    planted = trace.setting.faults
    minute = max(int(planted.from_minute[0]), 1)
    if planted.kind[0] == NONE or minute >= len(trace.minutes):
        return []
    return [_at(trace, minute, "fault", f"planted fault from here on: {_plain(FAULTS[planted.kind[0]])}")]
