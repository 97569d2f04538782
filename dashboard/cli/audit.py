"""`sludgebook audit`: which practices cut callbacks, by how much, how sure; engineers compared fairly."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.cli import printing as text
from dashboard.cli.open_book import book_at

if TYPE_CHECKING:
    from models.practice.results.audit_result import Audit, PracticeEffect
    from models.practice.results.pool_results import OwnFirm


def audit(path: Path, as_json: bool | None, *, curves: bool = False, firm_id: str | None = None) -> None:
    """Print the audit of a book; `curves` adds the points of every curve to the JSON.

    `firm_id`: of that firm's jobs alone, and beside them its effects against the unnamed others of the book.
    """
    book = book_at(path)
    from dashboard.services import apart
    from dashboard.services.auditing import audit_of_book
    from pipeline.store.simulated import jobs_held

    with apart.commanded(book.path, text.bars, text.say_aside) as bars:
        found, view = audit_of_book(book, firm_id, bars)
    if text.wants_json(as_json):
        data = found.as_dict()
        against = {} if view is None else {"against_others": view.as_dict()}
        kept = data if curves else {name: data[name] for name in data if name != "curves"}
        text.json_out(jobs_held(book).beside({**kept, **against}))
        return
    _in_words(found)
    if view is not None:
        _against(view)


def _against(view: OwnFirm) -> None:
    from dashboard.words import firm_against_others

    text.say(firm_against_others.answer(view))
    rows = [list(firm_against_others.row(each)) for each in view.practices]
    text.table([head.lower() for head in firm_against_others.HEADS], rows, "Callbacks avoided per 100 jobs")
    for sentence in (*firm_against_others.missing(view), firm_against_others.note(view)):
        text.say(sentence)


def _in_words(found: Audit) -> None:
    text.say(f"{found.jobs:,} jobs, {found.callbacks:,} debris callbacks within {found.horizon_days} days.")
    rows = [[each.label, f"{each.jobs:,}", *_figures(each), each.verdict_words] for each in found.practices]
    text.table(["practice", "jobs", "with", "without", "adjusted difference", "verdict"], rows, "Per 100 jobs")
    for each in found.practices:
        if each.refused:
            text.say(f"  {each.refused}")
    for finding in found.findings:
        text.say(finding.sentence)


def _figures(each: PracticeEffect) -> list[str]:
    if each.difference is None or each.low is None or each.high is None:
        return ["–", "–", "–"]
    risks = [f"{100 * risk:.1f}" for risk in (each.risk_with or 0.0, each.risk_without or 0.0)]
    return [*risks, f"{100 * each.difference:+.1f} ({100 * each.low:+.1f} to {100 * each.high:+.1f})"]
