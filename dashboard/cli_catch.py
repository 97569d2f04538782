"""What the commands around the catch do: learn from past jobs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from models.catch.frames import CatchFrames
    from models.catch.learn import Learnt
    from pipeline.book import Book

TABLES = ("jobs", "ftr_job_day", "ftr_catch_curve", "ftr_emitter_curve", "ftr_emitter", "ftr_quote")


def catch_frames(build: Path) -> CatchFrames:
    """The tables of a build that a watch reads, of all jobs."""
    from models.catch.frames import CatchFrames
    from pipeline.book import read_table

    return CatchFrames(*(read_table(build, name) for name in TABLES))


def learn_catch(book: Book, build: Path, progress: Callable[[int, int], None]) -> Learnt | None:
    """Learn how crews work and what emitters hold from the jobs of a build, and keep it with its models."""
    from models.catch.frames import job_catches
    from models.catch.kept import learn_and_store

    return learn_and_store(list(job_catches(catch_frames(build))), book.models_dir(build), progress=progress)
