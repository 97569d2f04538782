"""What the quote expected of a job, put into its set-up for the warning that it gives far too little."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from models.catch.records.job import JobCatch
from models.quantiles import LEVELS, Quantiles
from models.quote.model.quote_model import QuoteModel


def with_expected(jobs: Sequence[JobCatch], model: QuoteModel) -> list[JobCatch]:
    """The same jobs with the quote's distribution of dry magnetite [kg] and its middle flush time [min]; a job
    without a survey row stays as it is."""
    known = [number for number, job in enumerate(jobs) if job.survey]
    if not known:
        return list(jobs)
    x = np.array([jobs[number].survey for number in known], dtype=float)
    kilos = model.targets["magnetite_kg"].quantiles(x, np.array(list(LEVELS.values())))
    minutes = model.targets["flush_minutes"].quantiles(x, np.array([0.5]))[:, 0]
    found = list(jobs)
    for row, number in enumerate(known):
        expected = Quantiles.from_values(kilos[row])
        setup = replace(jobs[number].setup, expected_kg=expected, expected_minutes=float(minutes[row]))
        found[number] = replace(jobs[number], setup=setup)
    return found
