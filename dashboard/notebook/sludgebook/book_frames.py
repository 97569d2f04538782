"""From a book to frames: the tables of its current build that the estimators take."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pipeline.contract.firm import Firm
from pipeline.store.book import Book, read_table


@dataclass(frozen=True, slots=True, eq=False)
class BookFrames:
    """Tables of one build as pandas frames, keyed by `firm_id` and `job_id`; units are in the column names.

    `jobs`, `features` (`ftr_quote`), `outcomes` (`ftr_outcome`), `callbacks` (`ftr_callback`) and `volumes`
    (`ftr_volume`) have one row a job, `catches` (`ftr_catch_curve`) one a weighing. `firm` are the settings of the
    book. The frames are new each time: change them as you like.
    """

    jobs: pd.DataFrame
    features: pd.DataFrame
    outcomes: pd.DataFrame
    callbacks: pd.DataFrame
    volumes: pd.DataFrame
    catches: pd.DataFrame
    firm: Firm


def read_book(path: str | Path) -> BookFrames:
    """The tables of a book's current build. BookError in one sentence where there is no book, or no job in it."""
    book = Book(Path(path))
    build = book.current()
    return BookFrames(
        jobs=read_table(build, "jobs"),
        features=read_table(build, "ftr_quote"),
        outcomes=read_table(build, "ftr_outcome"),
        callbacks=read_table(build, "ftr_callback"),
        volumes=read_table(build, "ftr_volume"),
        catches=read_table(build, "ftr_catch_curve"),
        firm=book.firm(),
    )
