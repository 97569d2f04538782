"""`sludgebook audit`: which practices cut callbacks, by how much, how sure; engineers compared fairly."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from dashboard import cli_text as text

if TYPE_CHECKING:
    from models.practice.result import Audit, PracticeEffect


def audit(path: Path, as_json: bool | None, *, curves: bool = False) -> None:
    """Print the audit of a book; `curves` adds the points of every curve to the JSON."""
    from models.practice.audit import audit as weigh_up
    from models.practice.records import PracticeFrames
    from models.refusals import Refusal
    from pipeline.book import Book, read_table
    from pipeline.findings import BadInput

    book = Book(path)
    build, firm = book.current(), book.firm()
    frames = PracticeFrames(
        *(read_table(build, name) for name in ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback"))
    )
    try:
        with text.progress("Weighing up practices") as show:
            found = weigh_up(frames, firm, progress=lambda done, of: show(done, of, ""))
    except Refusal as refusal:
        raise BadInput(str(refusal)) from refusal
    if text.wants_json(as_json):
        data = found.as_dict()
        text.json_out(data if curves else {name: data[name] for name in data if name != "curves"})
        return
    _in_words(found)


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
