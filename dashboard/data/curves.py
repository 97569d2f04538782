"""Debris curves of every job of a build, packed for drawing, and bands over some of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import streamlit as st
from numpy.typing import NDArray

from dashboard.data.opened import ENTRIES

Marks = NDArray[np.uint64]
Floats = NDArray[np.float64]

if TYPE_CHECKING:
    from models.catch.records.ragged_arrays import Ragged
    from models.catch.records.watch_result import CurveBand


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def debris_curves(build: str) -> Ragged:
    """Magnetite caught [kg] by flush minute of every job, in the order of `job_place` of the list of jobs."""
    from pipeline.store.book import read_named

    jobs = read_named(Path(build), "reads/job_marks")["job_mark"].to_numpy()
    rows = read_named(Path(build), "reads/debris_curves")
    return curves_by_job(
        rows["job_mark"].to_numpy(),
        jobs,
        rows["minutes_since_start"].to_numpy(),
        rows["cumulative_magnetite_kg"].to_numpy(),
    )


def curves_by_job(marks: Marks, jobs: Marks, minutes: Floats, kilos: Floats) -> Ragged:
    """Curves of jobs in the order of `jobs`, from rows whose `marks` say of which job each is. Rows of a job lie
    together and in order of time unless a build was made in a way we do not know: then they are sorted first."""
    from models.catch.band import packed
    from models.catch.records.ragged_arrays import Ragged

    begins = np.flatnonzero(np.append(True, marks[1:] != marks[:-1])[: marks.size])
    order = np.argsort(jobs)
    place = order[np.searchsorted(jobs, marks[begins], sorter=order)]
    length = np.diff(np.append(begins, marks.size))
    back = np.flatnonzero(minutes[1:] < minutes[:-1]) + 1
    if np.unique(place).size < place.size or not np.isin(back, begins).all():
        job = np.repeat(place, length)
        row = np.lexsort((kilos, minutes, job))
        return packed(minutes[row], kilos[row], job[row], jobs.size)
    first, size = (np.zeros(jobs.size, dtype=np.intp) for _ in range(2))
    first[place], size[place] = begins, length
    return Ragged(minutes, kilos, first, size)


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
