"""A kept quote and the job on site that was begun from it: what was offered is found again beside what was done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.contract.job_totals import KIND_COUNTS
from pipeline.on_site.open_job import SiteJob, site_jobs
from pipeline.quotes.kept_quotes import KeptQuote, kept_quotes, say_what_became
from pipeline.store.book import Book

OWN = "own"
"""The firm of every job that is entered on site."""


@dataclass(frozen=True, slots=True)
class QuotedSurvey:
    """A kept quote that a job can begin from: its id, the job it names, its rows of the job log by table, the price
    before tax and the minutes on site that were offered among the job's."""

    quote_id: str
    job_id: str
    asked: Mapping[str, Sequence[Mapping[str, Any]]]


def quoted_surveys(book: Book) -> tuple[QuotedSurvey, ...]:
    """Kept quotes that were offered or won and that no job was begun from yet, the newest first."""
    begun = {job.quote_id for job in site_jobs(book)}
    alive = [kept for kept in kept_quotes(book) if kept.status in ("offered", "won") and kept.quote_id not in begun]
    return tuple(_survey(kept) for kept in reversed(alive))


def _survey(kept: KeptQuote) -> QuotedSurvey:
    minutes = (kept.answer.get("site_minutes") or {}).get("p50")
    offered = {"quoted_price": kept.price, "quoted_minutes": minutes}
    first, *others = kept.asked.get("jobs") or [{}]
    job = {**first, **{name: value for name, value in offered.items() if value is not None}}
    return QuotedSurvey(kept.quote_id, kept.job[1], {**kept.asked, "jobs": [job, *others]})


def link_quote(book: Book, job: SiteJob, *, is_begun_now: bool = False) -> None:
    """Note that the quote a job was begun from is won and was done as this job. Doing it again changes nothing.

    Later than at the beginning, only a quote that is still an open offer is marked: what the office said since stands.
    """
    kept = next((each for each in kept_quotes(book) if each.quote_id == job.quote_id), None)
    if kept is None or (kept.status == "won" and kept.job == (OWN, job.name)):
        return
    if is_begun_now or kept.status == "offered":
        say_what_became(book, kept.quote_id, "won", job=(OWN, job.name))


def emitters_to_walk(job: Mapping[str, Any], listed: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The emitters that a job begins with: those listed, else as many as were counted, of which nothing is known yet.

    >>> emitters_to_walk({"panel_22_count": 1, "towel_rail_count": 1}, [])
    [{'emitter_no': 1}, {'emitter_no': 2}]
    """
    if listed:
        return [dict(row) for row in listed]
    kinds = sum(int(job.get(name) or 0) for name in KIND_COUNTS)
    counted = max(int(job.get("emitter_count_at_survey") or 0), kinds)
    return [{"emitter_no": number} for number in range(1, counted + 1)]
