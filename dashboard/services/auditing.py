"""Which practices cut callbacks, by how much, how sure; and one firm against the unnamed others."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from dashboard.services.build_tables import Read, practice_frames, whole_tables
from dashboard.services.progress import Bars, Show, no_bars
from dashboard.services.settings import settings
from pipeline.contract.findings import BadInput

if TYPE_CHECKING:
    from pathlib import Path

    from models.practice.cohort.audited_jobs import Scope
    from models.practice.results.audit_result import Audit
    from models.practice.results.pool_results import OwnFirm
    from pipeline.contract.firm import Firm
    from pipeline.store.book import Book

WEIGHING, POOLING = "Weighing up practices", "Pooling the others"


def audit(read: Read, firm: Firm, scope: Scope | None = None, show: Show | None = None) -> Audit:
    """The audit of some of the jobs of a build (None: of all); a Refusal where they are too few."""
    from models.practice.audit import audit as weigh_up

    return weigh_up(practice_frames(read), firm, scope, show)


def against_others(read: Read, firm_id: str, show: Show | None = None) -> OwnFirm:
    """One firm against the unnamed others, over all jobs of a build."""
    from models.practice.pool.own_firm import own_firm

    return own_firm(practice_frames(read), firm_id, show)


def audit_of_build(build: Path, bars: Bars, firm: Firm, scope: Scope | None = None) -> Audit:
    """The audit of some of the jobs of a build, read anew; a Refusal where they are too few."""
    with bars(WEIGHING) as show:
        return audit(whole_tables(build), firm, scope, show)


def against_others_of_build(build: Path, bars: Bars, firm_id: str) -> OwnFirm:
    """One firm against the unnamed others, over all jobs of a build, read anew."""
    with bars(POOLING) as show:
        return against_others(whole_tables(build), firm_id, show)


def audit_of_book(book: Book, firm_id: str | None = None, bars: Bars = no_bars) -> tuple[Audit, OwnFirm | None]:
    """The audit of a book, or of one firm of it with that firm against the others.

    BadInput for a firm that is not in the book, and where the jobs are too few.
    """
    from models.practice.cohort.audited_jobs import Scope
    from models.refusals import Refusal

    read, firm = cache(whole_tables(book.current())), settings(book)
    scope = Scope() if firm_id is None else Scope(firms=(_known(read, firm_id),))
    try:
        with bars(WEIGHING) as show:
            found = audit(read, firm, scope, show)
        if firm_id is None:
            return found, None
        with bars(POOLING) as show:
            return found, against_others(read, firm_id, show)
    except Refusal as refusal:
        raise BadInput(str(refusal)) from refusal


def _known(read: Read, firm_id: str) -> str:
    if firm_id not in set(read("jobs")["firm_id"]):  # the others are not listed: whoever asks sees its own firm only
        raise BadInput(f"No job of the book is of the firm {firm_id!r}; name it as `firm_id` in the job log does.")
    return firm_id
