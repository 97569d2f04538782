"""Which jobs of the book are looked at: chosen once, kept in the address of the page, applied as masks.

Each choice is a mask, never a cut frame, so that a page can say how many jobs each one left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
import streamlit as st

from dashboard.words import wording
from pipeline.contract import JOB_LOG

SYSTEM_TYPES = JOB_LOG["jobs"].column("system_type").choices
SIZES: dict[str, tuple[int, int]] = {"to 8": (0, 8), "9 to 14": (9, 14), "15 and more": (15, 10_000)}
"""Sizes of a job by its emitters, as the forecasts are scored by."""


@dataclass(frozen=True, slots=True)
class Filters:
    """What to look at; an empty choice leaves nothing out. `first_year`, `last_year` of the visit."""

    system_types: tuple[str, ...] = ()
    sizes: tuple[str, ...] = ()
    first_year: int | None = None
    last_year: int | None = None

    def masks(self, jobs: pd.DataFrame) -> dict[str, pd.Series]:
        """One mask a choice in force, by what it leaves out; `jobs` as from `data.job_list`."""
        found: dict[str, pd.Series] = {}
        if self.system_types:
            found["another kind of system"] = jobs["system_type"].isin(self.system_types)
        if self.sizes:
            emitters = jobs["emitter_count"]
            within = [emitters.between(*SIZES[size]).fillna(False) for size in self.sizes]
            found["another size"] = pd.concat(within, axis=1).any(axis=1)
        if self.first_year is not None and self.last_year is not None:
            years = pd.to_datetime(jobs["visit_date"]).dt.year
            found["other years"] = years.between(self.first_year, self.last_year)
        return found

    def mask(self, jobs: pd.DataFrame) -> pd.Series:
        """The jobs that pass every choice."""
        kept = pd.Series(True, index=jobs.index)
        for mask in self.masks(jobs).values():
            kept &= mask
        return kept

    def left_out(self, jobs: pd.DataFrame) -> str:
        """How many jobs are left out, and by which choice: `120 of 400 jobs left out: 120 another size.`"""
        out = int((~self.mask(jobs)).sum())
        if not out:
            return ""
        parts = [f"{int((~mask).sum())} {reason}" for reason, mask in self.masks(jobs).items() if (~mask).any()]
        return f"{out} of {wording.count(len(jobs), 'job')} left out: {', '.join(parts)}."


def draw_filters(jobs: pd.DataFrame) -> Filters:
    """Draw the choices in one row and return them; they stand in the page's address, so that a link keeps them."""
    years = sorted(pd.to_datetime(jobs["visit_date"]).dt.year.dropna().astype(int).unique())
    with st.container(horizontal=True, vertical_alignment="bottom"):
        types = st.pills(
            "System", SYSTEM_TYPES, selection_mode="multi", format_func=wording.plain, key="system", bind="query-params"
        )
        sizes = st.pills("Emitters", list(SIZES), selection_mode="multi", key="size", bind="query-params")
        first, last = (years[0], years[-1]) if years else (None, None)
        if first != last:
            first, last = st.select_slider("Years", years, (first, last), key="years", bind="query-params", width=260)
    return Filters(tuple(types or ()), tuple(sizes or ()), first, last)
