"""What a quote can tell besides its answer: other plans, and the worth of a water sample."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.data.forecasts import Rows, model_of
from dashboard.data.opened import firm

if TYPE_CHECKING:
    from models.quote.offers.further import Further


def further(build: str, jobs: Rows, emitters: Rows, pipe_runs: Rows) -> Further:
    """The same for one survey, given as rows of the job log."""
    from models.quote.offers.further import further as work_out
    from pipeline.quotes.requests import request_features, requests_from_tables

    settings = firm()
    inputs = request_features(requests_from_tables(jobs, emitters, pipe_runs), settings)
    return work_out(model_of(build), inputs.features, inputs.volumes, settings)[0]
