"""The report of a finished job for the client, as a PDF: before and after, kilograms, the curve, advice."""

from __future__ import annotations

from dashboard.papers.drawing import Axis, DrawnLine, curves
from dashboard.papers.job_contents import JobContents
from dashboard.papers.sheet import LOOK, SMALL, Letterhead, Sheet
from dashboard.words import wording

TITLE = "Report of the cleaning"


def job_report(contents: JobContents, head: Letterhead) -> bytes:
    """The paper; one page for a usual house, more where many emitters were weighed apart."""
    sheet = Sheet(head)
    sheet.letters(SMALL + 1, colour=LOOK.muted)
    sheet.cell(sheet.epw, 5, sheet.fitted(f"Job {contents.job}   |   {wording.day(contents.visited_on)}", sheet.epw))
    sheet.ln(6)
    sheet.paragraph(contents.answer, bold=True, size=11)
    _picture(sheet, contents)
    if contents.left:
        sheet.paragraph(contents.left)
    _water(sheet, contents)
    if contents.emitters:
        sheet.heading("Where it came from: emitters flushed on their own")
        sheet.rows(contents.emitters)
    _surfaces(sheet, contents)
    sheet.heading("What was done")
    sheet.bullets(contents.done)
    sheet.heading("What we advise")
    sheet.bullets(contents.advice)
    sheet.heading("Please note")
    sheet.bullets(contents.cautions, size=SMALL + 0.5)
    sheet.heading("Words")
    sheet.bullets([f"{word}: {meaning}." for word, meaning in contents.words], size=SMALL)
    return sheet.as_bytes()


def _picture(sheet: Sheet, contents: JobContents) -> None:
    if len(contents.curve) < 2:
        return
    points = ((0.0, 0.0), *contents.curve)
    total = contents.curve[-1][1]
    sheet.heading("How it came out")
    curves(
        sheet,
        [DrawnLine(points, LOOK.debris, wording.kilograms(total), is_marked=True)],
        Axis("Time of flushing [h]", lambda v: f"{v / 60:g}", 60),
        Axis("Magnetite caught so far, dry [kg]", lambda v: f"{v:g}"),
        height=40,
    )
    sheet.paragraph(
        "Each dot is a weighing. A curve that flattens means that this flow and heat bring little more.",
        size=SMALL,
        colour=LOOK.muted,
    )


def _water(sheet: Sheet, contents: JobContents) -> None:
    sheet.heading("The water before and after")
    if not contents.water:
        sheet.paragraph("The water was not measured, or the results were not logged.")
        return
    sheet.grid(("", "Before", "After", "Mains supply"), contents.water, (0.4, 0.2, 0.2, 0.2))


def _surfaces(sheet: Sheet, contents: JobContents) -> None:
    if not contents.surfaces:
        return
    sheet.heading("Surface temperatures before and after, heat on [°C]")
    heads = ("", "Top before", "Bottom before", "Top after", "Bottom after")
    sheet.grid(heads, contents.surfaces, (0.36, 0.16, 0.16, 0.16, 0.16))
