"""The practice audit as a PDF for a trade body: answer, effects, engineers' spread, methods, limits, words."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard import wording
from dashboard.papers.drawing import marks
from dashboard.papers.sheet import LOOK, SMALL, Letterhead, Sheet, rgb
from models.practice.result import Audit, PracticeEffect

TITLE = "Practice audit"
METHODS: tuple[str, ...] = (
    "Outcome: a first callback for debris within the horizon; jobs followed for less are weighted for (censoring).",
    "Adjusted difference: cross-fitted, doubly robust (AIPW), for what was known at survey, the engineer, and the "
    "other practices of the job; jobs without a match are left out and counted.",
    "Intervals at 95 % from influence functions, by engineer where there are enough; verdicts hold the share of chance "
    "findings among them to 5 % (Benjamini and Hochberg 1995).",
    "E-value: how strongly something unrecorded would have to drive both practice and callbacks to explain the effect "
    "away (VanderWeele and Ding 2017).",
)
WORDS: tuple[str, ...] = (
    "Adjusted: as if the practice had been used on the same mix of systems as its absence.",
    "Interval: the range that holds the true figure in 95 of 100 such audits.",
    "Jobs needed: about so many more would show an effect worth having with 80 % chance.",
)


def answer(audit: Audit) -> str:
    """What can be said, in one sentence."""
    parts = []
    for verdict in ("cuts callbacks", "raises callbacks"):
        names = [each.label for each in audit.practices if each.verdict == verdict]
        if names:
            parts.append(f"{wording.listed(names)}: {verdict}")
    return "; ".join(parts) + "." if parts else "No practice can be told yet to cut or raise callbacks."


def audit_report(audit: Audit, head: Letterhead) -> bytes:
    """The paper; two to three pages with seventeen practices."""
    sheet = Sheet(head)
    sheet.letters(SMALL + 1, colour=LOOK.muted)
    about = (
        f"{wording.count(audit.jobs, 'job')}, {wording.window(audit.first_visit, audit.last_visit)}, "
        f"{wording.count(audit.callbacks, 'debris callback')} within {audit.horizon_days} days"
    )
    sheet.cell(sheet.epw, 5, sheet.fitted(about, sheet.epw))
    sheet.ln(6)
    sheet.paragraph(answer(audit), bold=True, size=11)
    for finding in audit.findings:
        sheet.paragraph(finding.sentence, size=SMALL + 0.5, colour=LOOK.muted)
    told = [each for each in audit.practices if each.difference is not None]
    if told:
        sheet.heading("Callbacks avoided by each practice, per 100 jobs")
        forest(sheet, told)
    _table(sheet, audit.practices)
    _engineers(sheet, audit)
    sheet.heading("How it was worked out")
    sheet.bullets(METHODS, size=SMALL + 0.5)
    sheet.heading("What it assumes, and its limits")
    sheet.bullets((*audit.assumptions, *_left_out(audit)), size=SMALL + 0.5)
    sheet.heading("What it is adjusted for")
    sheet.paragraph(wording.listed([each.label.lower() for each in audit.confounders]) + ".", size=SMALL + 0.5)
    sheet.heading("Words")
    sheet.bullets(WORDS, size=SMALL)
    return sheet.as_bytes()


def forest(sheet: Sheet, effects: Sequence[PracticeEffect]) -> None:
    """One line an effect: interval, mark (filled where a verdict is given), the bare difference as a stroke."""
    label, row = 62.0, 5.6
    spans = [(-100 * (e.high or 0), -100 * (e.difference or 0), -100 * (e.low or 0)) for e in effects]
    low, high = min(0.0, *(span[0] for span in spans)), max(0.0, *(span[2] for span in spans))
    left, width = sheet.l_margin + label, sheet.epw - label - 4
    scale = width / max(high - low, 1e-9)
    if sheet.will_page_break(row * len(effects) + 12):
        sheet.add_page()
    top = sheet.get_y() + 1
    bottom = top + row * len(effects)
    for number, (effect, (a, b, c)) in enumerate(zip(effects, spans, strict=True)):
        y = top + row * (number + 0.5)
        told = effect.verdict != "cannot be told yet"
        colour = LOOK.accent if effect.verdict == "cuts callbacks" else LOOK.debris if told else LOOK.ink
        sheet.letters(SMALL + 0.3)
        sheet.set_xy(sheet.l_margin, y - 2)
        sheet.cell(label - 2, 4, sheet.fitted(effect.label, label - 2))
        sheet.set_draw_color(*rgb(colour))
        sheet.set_fill_color(*rgb(colour if told else LOOK.page))
        sheet.set_line_width(0.6)
        sheet.line(left + (a - low) * scale, y, left + (c - low) * scale, y)
        sheet.ellipse(left + (b - low) * scale - 1.1, y - 1.1, 2.2, 2.2, style="DF")
        if effect.raw is not None and low <= -100 * effect.raw.difference <= high:
            x = left + (-100 * effect.raw.difference - low) * scale
            sheet.set_draw_color(*rgb(LOOK.muted))
            sheet.set_line_width(0.3)
            sheet.line(x, y - 1.6, x, y + 1.6)
    _scale(sheet, (low, high), left, (top, bottom), scale)


def _scale(sheet: Sheet, ends: tuple[float, float], left: float, span: tuple[float, float], scale: float) -> None:
    (low, high), (top, bottom) = ends, span
    ticks = sorted({*marks(high, 4), *(-tick for tick in marks(-low, 4))})
    sheet.set_draw_color(*rgb(LOOK.muted))
    sheet.set_line_width(0.2)
    sheet.line(left - low * scale, top, left - low * scale, bottom)
    sheet.letters(SMALL - 1, colour=LOOK.muted)
    for tick in (tick for tick in ticks if low <= tick <= high):
        sheet.set_xy(left + (tick - low) * scale - 8, bottom + 0.5)
        sheet.cell(16, 3, sheet.words(f"{tick:g}".replace("-", "−")), align="C")
    sheet.set_xy(sheet.l_margin, bottom + 4)
    note = "Ring: cannot be told yet; filled: told. Small stroke: the bare difference in the records, before adjusting."
    sheet.cell(sheet.epw, 3.4, sheet.words(note))
    sheet.ln(4)


def _table(sheet: Sheet, practices: Sequence[PracticeEffect]) -> None:
    sheet.heading("Every practice")
    rows = []
    for each in practices:
        known = each.difference is not None
        figure = f"{-100 * (each.difference or 0):.1f}" if known else "–"
        span = f"{-100 * (each.high or 0):.1f} to {-100 * (each.low or 0):.1f}" if known else "–"
        rows.append((each.label, str(each.jobs_with), str(each.jobs_without), figure, span, each.verdict_words))
    heads = ("Practice", "With", "Without", "Avoided", "Interval", "Verdict")
    sheet.grid(heads, rows, (0.31, 0.06, 0.08, 0.08, 0.13, 0.34))


def _engineers(sheet: Sheet, audit: Audit) -> None:
    sheet.heading("Engineers against what their jobs lead to expect")
    funnel = audit.funnel
    if funnel.refused:
        sheet.paragraph(funnel.refused)
        return
    places = [each.place for each in funnel.engineers]
    told = [f"{wording.count(places.count(place), 'engineer')} {place}" for place in dict.fromkeys(places)]
    sheet.paragraph(f"{wording.listed(told)}. Limits hold 99.8 % of what chance brings; nobody is named or ranked.")


def _left_out(audit: Audit) -> tuple[str, ...]:
    if not audit.left_out:
        return ()
    return ("Left out: " + "; ".join(f"{count} {reason}" for reason, count in audit.left_out.items()) + ".",)
