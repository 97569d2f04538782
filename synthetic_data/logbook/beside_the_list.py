"""What some firms write beside the rows: counts of a survey, totals of a day, litres put in, surfaces felt.

Everything here is drawn from streams of its own and leaves every other cell of the log as it is. Whoever counts is now
and then one off; totals are rounded; litres come in half litres.
"""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.contract.job_log import EMITTER_KINDS
from synthetic_data.chunk import Chunk
from synthetic_data.house.house import Flags, Floats, Ints
from synthetic_data.logbook.logbook import gap, sloppiness
from synthetic_data.logbook.written_clocks import visit_clocks

COUNTED_SHARE = 0.35
"""Of the surveys, those that hold counts beside the list of emitters."""
MISCOUNT_CHANCE = 0.08
"""That a count is one too many or one too few."""
HOURS_SHARE = 0.3
TOTAL_SHARE = 0.25
CHARGED_SHARE = 0.6
LITRES_SHARE = 0.4
SURFACES_SHARE = 0.2
"""Of the jobs, those with hours, a total, a price charged, litres, and surface temperatures written down."""
COUNTED_KINDS = ("panel_11", "panel_21", "panel_22", "towel_rail", "column", "underfloor_loop")
LABEL_L_PER_100_L = 1.0
"""Cleaner or inhibitor to 100 litres of water, as labels usually have it (common practice, no source)."""
LONG_MM = 1600.0


def counted_columns(c: Chunk) -> dict[str, object]:
    """Counts at survey: all emitters, cold, upstairs, long ones, and by kind."""
    rng, h = c.setting.random("counts"), c.houses
    there = h.present
    kinds = {f"{kind}_count": there & (h.kind == EMITTER_KINDS.index(kind)) for kind in COUNTED_KINDS}
    marks: dict[str, Flags] = {
        "emitter_count_at_survey": there,
        "cold_count_at_survey": c.survey.cold & there,
        "upstairs_count_at_survey": there & (h.floor > 0),
        "long_count_at_survey": there & (h.length_mm >= LONG_MM),
        **kinds,
    }
    counted = rng.random(c.jobs) < COUNTED_SHARE
    counts = {name: gap(rng, _counted(rng, each), 0.03 * sloppiness(c), counted) for name, each in marks.items()}
    age = np.maximum(np.round(h.age_years / 5) * 5, 1.0)  # guessed in fives
    return {**counts, "emitter_age_years": gap(rng, age, 0.3 * sloppiness(c), counted)}


def _counted(rng: np.random.Generator, marked: Flags) -> Ints:
    exact = marked.sum(axis=1)
    off = np.where(rng.random(len(exact)) < MISCOUNT_CHANCE, rng.choice([-1, 1], len(exact)), 0)
    return np.asarray(np.maximum(exact + np.where(exact > 0, off, 0), 0))


def total_columns(c: Chunk, quoted_price: Floats, caught_g: Floats) -> dict[str, object]:
    """Totals of a day, litres put in and the price charged. `caught_g`: all that was weighed, wet (jobs,)."""
    rng, slop = c.setting.random("totals"), sloppiness(c)
    hours, total, charged, litres = rng.random((4, c.jobs)) < np.array(
        [[HOURS_SHARE], [TOTAL_SHARE], [CHARGED_SHARE], [LITRES_SHARE]]
    )
    times, p = visit_clocks(c), c.plans
    worked = np.round((times.left - times.arrived) / 60.0 * 2) / 2
    same_day = (worked > 0.0) & (worked <= 14.0)
    label_l = c.systems.volume_l / 100.0 * LABEL_L_PER_100_L
    cleaner = np.maximum(np.round(label_l * p.dose_ratio * 2) / 2, 0.5)
    inhibitor = np.maximum(np.round(label_l * np.exp(0.15 * rng.standard_normal(c.jobs)) * 2) / 2, 0.5)
    agreed = np.where(rng.random(c.jobs) < 0.8, 1.0, np.exp(0.08 * rng.standard_normal(c.jobs)))
    return {
        "cleaner_put_in_l": gap(rng, cleaner, 0.05 * slop, litres & (p.predose_days > 0)),
        "inhibitor_put_in_l": gap(rng, inhibitor, 0.05 * slop, litres & p.inhibitor_dosed),
        "caught_total_kg": gap(rng, np.round(caught_g / 1000.0, 1), 0.05 * slop, total & (caught_g > 0)),
        "caught_total_weighed": gap(rng, np.full(c.jobs, "wet"), 0.5, total & (caught_g > 0)),
        "worked_hours": gap(rng, worked, 0.05 * slop, hours & same_day),
        "charged_price": gap(rng, np.round(quoted_price * agreed / 5) * 5, 0.05 * slop, charged),
        "came_back": gap(rng, np.zeros(c.jobs, dtype=bool), 1.0, np.zeros(c.jobs, dtype=bool)),
    }


def surface_columns(c: Chunk, row: Ints, column: Ints) -> dict[str, pl.Series]:
    """Surface at top and bottom of each emitter, heat on, before and after, in the jobs that take them.

    Sound ones are some 8 K cooler at the bottom; those found cold some 28 K before, and one in seven of them after.
    """
    rng = c.setting.random("surfaces")
    taken = (rng.random(c.jobs) < SURFACES_SHARE)[row]
    cold = c.survey.cold[row, column]
    still = cold & (rng.random(len(row)) < 1 / 7)
    slop = sloppiness(c)[row]
    cells: dict[str, pl.Series] = {}
    for when, is_cold in (("before", cold), ("after", still)):
        top = 58.0 + 5.0 * rng.standard_normal(len(row))
        drop: NDArray[np.float64] = np.where(is_cold, 28.0, 8.0) + 3.0 * rng.standard_normal(len(row))
        cells[f"top_{when}_c"] = gap(rng, np.round(top), 0.1 * slop, taken)
        cells[f"bottom_{when}_c"] = gap(rng, np.round(np.clip(top - drop, 15.0, top)), 0.1 * slop, taken)
    return cells
