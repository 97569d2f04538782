"""Debris curves of every job of a build, packed for drawing, and bands over some of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.data.opened import ENTRIES, table

if TYPE_CHECKING:
    from models.catch.ragged import Ragged
    from models.catch.result import CurveBand


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def debris_curves(build: str) -> Ragged:
    """Magnetite caught [kg] by flush minute of every job, in the order of `job_place` of the list of jobs."""
    from models.catch.band import packed
    from pipeline.book import read_named

    rows = read_named(Path(build), "reads/debris_curves")
    minutes, kilos, place = (rows[name].to_numpy() for name in
                             ("minutes_since_start", "cumulative_magnetite_kg", "job_place"))  # fmt: skip
    return packed(minutes, kilos, place, len(table(build, "jobs")))


def curves_of(build: str, jobs: pd.DataFrame, *, is_share: bool = False, most: int | None = None) -> Ragged:
    """Debris curves of the jobs of a list that have one, as kilograms or as shares of each job's total; evenly taken
    ones where there are more than `most`."""
    from models.catch.band import as_share, picked

    some = picked(debris_curves(build), jobs["job_place"].to_numpy(), most)
    return as_share(some) if is_share else some


def catch_band(build: str, jobs: pd.DataFrame, *, is_share: bool = False) -> CurveBand:
    """Quantiles over the debris curves of those jobs. NotEnoughData under 8 jobs."""
    from models.catch.band import MOST_JOBS, band

    return band(curves_of(build, jobs, is_share=is_share, most=MOST_JOBS))
