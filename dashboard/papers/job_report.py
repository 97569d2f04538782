"""The report of a finished job for the client, as a PDF: before and after, kilograms, the curve, advice."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

from dashboard.papers.drawing import Axis, DrawnLine, curves
from dashboard.papers.job_contents import JobContents
from dashboard.papers.sheet import LOOK, SMALL, Letterhead, Sheet
from dashboard.words import wording

TITLE = "Report of the cleaning"
MOST_PAGES = 2
PICTURES_A_ROW, PICTURE_MM, CAPTION_MM = 3, 45.0, 5.0
"""Photographs stand three in a row, each in a frame of this height with its caption below."""


def job_report(contents: JobContents, head: Letterhead) -> bytes:
    """The paper: one page for a usual house, two at most; photographs as far as there is room for them."""
    for photographs in (2 * PICTURES_A_ROW, PICTURES_A_ROW, 0):
        sheet = _drawn(replace(contents, photographs=contents.photographs[:photographs]), head)
        if sheet.page_no() <= MOST_PAGES:
            break
    return sheet.as_bytes()


def _drawn(contents: JobContents, head: Letterhead) -> Sheet:
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
    _photographs(sheet, contents)
    return sheet


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


def _photographs(sheet: Sheet, contents: JobContents) -> None:
    if not contents.photographs:
        return
    gap = 4.0
    width = (sheet.epw - gap * (PICTURES_A_ROW - 1)) / PICTURES_A_ROW
    rows = [
        contents.photographs[at : at + PICTURES_A_ROW] for at in range(0, len(contents.photographs), PICTURES_A_ROW)
    ]
    if sheet.will_page_break(PICTURE_MM + CAPTION_MM + 12):
        sheet.add_page()
    sheet.heading("Photographs")
    for row in rows:
        if sheet.will_page_break(PICTURE_MM + CAPTION_MM):
            sheet.add_page()
        top = sheet.get_y() + 1
        for place, (caption, jpeg) in enumerate(row):
            left = sheet.l_margin + place * (width + gap)
            sheet.image(
                BytesIO(jpeg), left, top, w=width, h=PICTURE_MM, keep_aspect_ratio=True, alt_text=sheet.words(caption)
            )
            sheet.letters(SMALL, colour=LOOK.muted)
            sheet.set_xy(left, top + PICTURE_MM)
            sheet.cell(width, CAPTION_MM, sheet.fitted(caption, width), align="C")
        sheet.set_xy(sheet.l_margin, top + PICTURE_MM + CAPTION_MM + 2)
