"""Whether the time of an entry makes sense: within the flush, as far as it has come, and not ahead of the clock."""

from __future__ import annotations

from datetime import datetime, timedelta

from pipeline.contract.findings import BadInput
from pipeline.on_site.open_job import SiteJob

MEASURED_KINDS = ("catch", "reading", "focus", "change")
"""What is entered of a flush that runs."""


class BeforeTheStart(BadInput):
    """An entry from before the flow started; `at` is when it happened: the start can be moved there."""

    def __init__(self, sentence: str, at: datetime) -> None:
        super().__init__(sentence)
        self.at = at


def check_time(job: SiteJob, kind: str, now: datetime, ago_min: float) -> None:
    """BadInput where an entry made `ago_min` minutes before `now` cannot be of this flush; `BeforeTheStart` where the
    start would have to be moved for it. Entries of a job that has not begun are not judged."""
    at = now.replace(microsecond=0) - timedelta(minutes=ago_min)
    if kind not in MEASURED_KINDS or job.started_at is None:
        return
    if job.finish is not None:
        raise BadInput(f"Not saved: {job.name} is finished. Open it again to add to it.")
    if at < job.started_at:
        is_same_day = at.date() == job.started_at.date()
        shape = "%H:%M" if is_same_day else "%d/%m/%Y %H:%M"
        raise BeforeTheStart(
            f"Not saved: {at:{shape}} lies before the start of the flow at {job.started_at:{shape}}. "
            "Mend the minutes, or move the start.",
            at,
        )


def check_moved_start(job: SiteJob, moved_to: datetime, now: datetime) -> None:
    """BadInput where the start of the flow cannot be moved there: ahead of the clock, or past what was entered."""
    if moved_to > now:
        raise BadInput(f"Not saved: {moved_to:%H:%M} is still to come.")
    first = min((event.at for kind in MEASURED_KINDS for event in job.all_of(kind)), default=None)
    if first is not None and moved_to > first:
        raise BadInput(f"Not saved: something was entered at {first:%H:%M} already, before {moved_to:%H:%M}.")
