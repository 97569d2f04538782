"""Reading ahead: what pages share of the open book, read into their cache while nobody waits for it."""

from __future__ import annotations

from dashboard.data.curves import debris_curves
from dashboard.data.forecasts import forecaster
from dashboard.data.jobs import job_list, past
from dashboard.data.opened import shelf
from pipeline.contract.findings import SludgebookError


def read_ahead() -> None:
    """Read the list of jobs, their debris curves and what was learnt. A book that cannot be read is no matter here:
    the page that needs it says so."""
    opened = shelf()
    if opened.state != "ready":
        return
    job_list(opened.build)
    debris_curves(opened.build)
    try:
        past()
        forecaster(opened.build)
    except SludgebookError:
        return
