"""The practice audit as a PDF for a trade body: answer, effects, one in depth, worth, engineers, methods, limits."""

from __future__ import annotations

from dashboard.figures.audit.practice_curves import pair
from dashboard.papers.audit_contents import AuditContents, audit_contents
from dashboard.papers.drawing import Axis, DrawnLine, curves
from dashboard.papers.drawing_audit import forest, funnel
from dashboard.papers.sheet import LOOK, SMALL, Letterhead, Sheet
from dashboard.words.firm_against_others import HEADS
from models.practice.results.audit_result import Audit
from models.practice.results.curve_results import CumulativeIncidence
from models.practice.results.pool_results import OwnFirm

TITLE = "Practice audit"
NOTE = SMALL + 0.5


def audit_report(audit: Audit, head: Letterhead, view: OwnFirm | None = None) -> bytes:
    """The paper; three pages with seventeen practices, four with `view`: one firm against the unnamed others."""
    sheet, contents = Sheet(head), audit_contents(audit, view)
    sheet.letters(SMALL + 1, colour=LOOK.muted)
    sheet.cell(sheet.epw, 5, sheet.fitted(contents.about, sheet.epw))
    sheet.ln(6)
    sheet.paragraph(contents.answer, bold=True, size=11)
    for note in contents.notes:
        sheet.paragraph(note, size=NOTE, colour=LOOK.muted)
    _effects(sheet, audit, contents)
    _in_depth(sheet, audit, contents)
    _worth(sheet, contents)
    _against(sheet, contents)
    sheet.heading("Engineers, against what their jobs lead to expect", rows=12)
    sheet.paragraph(contents.engineers)
    funnel(sheet, audit.funnel)
    sheet.heading("How it was worked out")
    sheet.bullets(contents.methods, size=NOTE)
    sheet.heading("What it assumes")
    sheet.bullets([*contents.assumptions, *([contents.left_out] if contents.left_out else [])], size=NOTE)
    sheet.heading("What it is adjusted for")
    sheet.paragraph(contents.confounders, size=SMALL)
    sheet.heading("Please note")
    sheet.bullets(contents.cautions, size=NOTE)
    sheet.heading("Words")
    sheet.bullets([f"{word}: {meaning}." for word, meaning in contents.words], size=SMALL)
    return sheet.as_bytes()


def _effects(sheet: Sheet, audit: Audit, contents: AuditContents) -> None:
    names = [row[0] for row in contents.effects]
    told = sorted((e for e in audit.practices if e.difference is not None), key=lambda e: names.index(e.label))
    if told:
        sheet.heading("Callbacks avoided by each practice")
        forest(sheet, told, "Callbacks avoided [per 100 jobs]; right of zero: fewer callbacks with the practice")
        sheet.paragraph(
            "Line: 95 % interval after adjusting. Diamond: told; ring: cannot be told yet. Thin grey line below: the "
            "bare records, before adjusting.",
            size=SMALL,
            colour=LOOK.muted,
        )
    sheet.heading("Every practice, callbacks avoided per 100 jobs", rows=4)
    heads = ("Practice", "With", "Without", "Avoided", "Interval", "Bare", "Verdict", "More jobs")
    sheet.grid(heads, contents.effects, (0.31, 0.065, 0.085, 0.085, 0.13, 0.055, 0.165, 0.105))
    for sentence in contents.refusals:
        sheet.paragraph(sentence, size=SMALL, colour=LOOK.muted)


def _in_depth(sheet: Sheet, audit: Audit, contents: AuditContents) -> None:
    if contents.focus is None:
        return
    found = audit.curves[contents.focus.contrast]
    sheet.heading(f"{contents.focus.label}: {contents.focus.verdict_words}", rows=12)
    lines = [
        DrawnLine(_points(curve), colour, name, is_expected=name == "without")
        for curve, colour, name in zip(pair(found), (LOOK.accent, LOOK.ink), ("with", "without"), strict=True)
    ]
    curves(
        sheet,
        lines,
        Axis("Days since the visit", lambda v: f"{v:g}", 60),
        Axis("Called back for debris [% of jobs]", lambda v: f"{v:g}"),
        height=38,
    )
    watched = [
        ("Jobs still watched", *(f"day {day:,}" for day in found.table_days)),
        ("with", *(f"{number:,}" for number in found.at_risk_with)),
        ("without", *(f"{number:,}" for number in found.at_risk_without)),
    ]
    sheet.grid(watched[0], watched[1:], (0.23, *(0.77 / len(found.table_days),) * len(found.table_days)))
    sheet.ln(1)
    sheet.bullets(contents.focus_lines, size=NOTE)


def _points(curve: CumulativeIncidence) -> tuple[tuple[float, float], ...]:
    """Corners of the steps, in per cent."""
    corners: list[tuple[float, float]] = []
    for day, share in zip(curve.days, curve.estimate, strict=True):
        if corners:
            corners.append((float(day), corners[-1][1]))
        corners.append((float(day), 100 * float(share)))
    return tuple(corners)


def _worth(sheet: Sheet, contents: AuditContents) -> None:
    if not contents.worth:
        return
    sheet.heading("What each is worth", rows=4)
    heads = ("Practice", "Costs a job", "For each avoided", "Net a job", "Interval")
    sheet.grid(heads, contents.worth, (0.36, 0.13, 0.21, 0.12, 0.18))
    sheet.paragraph(
        "Net: callbacks avoided times the cost of a return visit, less the cost of the practice, both with overhead. "
        "A dash: none is shown to be avoided. The effect counts as in prices, moved towards zero, because of many "
        "practices compared the clearest owe something to luck. Good name, and what a practice does besides, is not "
        "counted.",
        size=SMALL,
        colour=LOOK.muted,
    )


def _against(sheet: Sheet, contents: AuditContents) -> None:
    if not contents.against:
        return
    sheet.heading("Your firm against the others, callbacks avoided per 100 jobs", rows=4)
    first, *rest = contents.against_lines
    sheet.paragraph(first)
    sheet.grid(HEADS, contents.against, (0.34, 0.17, 0.17, 0.15, 0.17))
    for sentence in rest:
        sheet.paragraph(sentence, size=SMALL, colour=LOOK.muted)
