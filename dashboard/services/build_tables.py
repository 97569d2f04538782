"""Which tables of a build each answer reads, and how it is read: whole tables, or the rows of one job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from models.catch.records.job_frames import CatchFrames
    from models.practice.cohort.audited_jobs import PracticeFrames

Read = Callable[[str], "pd.DataFrame"]
"""Name of a table → its rows: of a whole build, or of one job of it."""

CATCH_TABLES = ("jobs", "ftr_job_day", "ftr_catch_curve", "ftr_emitter_curve", "ftr_emitter", "ftr_quote")
"""What a watch learns from past jobs, in the order of `CatchFrames`."""
WATCH_TABLES = (*CATCH_TABLES, "readings", "ftr_volume")
"""What a watch of one job reads: readings and volume are for its warnings."""
AUDIT_TABLES = ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")
"""What the practice audit reads, in the order of `PracticeFrames`."""


def whole_tables(build: Path) -> Read:
    """Reads whole tables of a build."""
    from pipeline.store.book import read_table

    return lambda name: read_table(build, name)


def tables_of_job(build: Path, firm_id: str, job_id: str) -> Read:
    """Reads the rows of one job of a build, in their natural order."""
    from pipeline.store.job_reads import rows_of_job

    return lambda name: rows_of_job(build, name, firm_id, job_id)


def past_job_frames(read: Read) -> CatchFrames:
    """All jobs as a watch learns from them; of one that is kept by its totals alone there is nothing to learn."""
    from models.catch.records.job_frames import CatchFrames

    frames = CatchFrames(*(read(name) for name in CATCH_TABLES))
    return replace(frames, jobs=frames.jobs[frames.jobs["flush_started_at"].notna()])


def watched_job_frames(read: Read) -> CatchFrames:
    """One job as a watch takes it, readings and volume included."""
    from models.catch.records.job_frames import CatchFrames

    return CatchFrames(*(read(name) for name in WATCH_TABLES))


def practice_frames(read: Read) -> PracticeFrames:
    """All jobs as the practice audit takes them."""
    from models.practice.cohort.audited_jobs import PracticeFrames

    return PracticeFrames(*(read(name) for name in AUDIT_TABLES))
