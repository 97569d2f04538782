"""The client's quote as a PDF of one page: what is offered, for how much, what it rests on and until when."""

from __future__ import annotations

from dashboard.papers.drawing import Axis, likely
from dashboard.papers.quote_contents import QuoteContents
from dashboard.papers.sheet import LOOK, SMALL, Letterhead, Sheet, rgb
from dashboard.words import wording
from models.quote.base.quote_result import Quote

TITLE = "Quote"


def quote_sheet(contents: QuoteContents, quote: Quote, head: Letterhead) -> bytes:
    """The paper. One page with words of usual length; longer ones run on to a second, nothing is cut off."""
    sheet = Sheet(head)
    _what(sheet, contents)
    _price(sheet, contents)
    sheet.heading("What is offered")
    sheet.bullets(contents.offered)
    sheet.heading("What to expect")
    sheet.paragraph(contents.expected)
    sheet.ln(1)
    kilos, site = quote.forecasts["magnetite_kg"], quote.forecasts["site_minutes"]
    likely(sheet, "Time on site", site.quantiles, LOOK.ink, Axis("", wording.duration, 60))
    likely(sheet, "Magnetite, dry", kilos.quantiles, LOOK.debris, Axis("", lambda v: f"{v:g} kg"))
    sheet.heading("What the price assumes")
    sheet.bullets(contents.assumed, size=SMALL + 0.7)
    sheet.heading("What could change it")
    sheet.bullets(contents.could_change, size=SMALL + 0.7)
    sheet.heading("Please note")
    sheet.bullets(contents.cautions, size=SMALL)
    _signature(sheet)
    return sheet.as_bytes()


def _what(sheet: Sheet, contents: QuoteContents) -> None:
    sheet.letters(SMALL + 1, colour=LOOK.muted)
    until = f"Job {contents.job}   |   {wording.day(contents.quoted_on)}   |   "
    sheet.cell(sheet.epw, 5, sheet.fitted(f"{until}valid until {wording.day(contents.valid_until)}", sheet.epw))
    sheet.ln(6)
    sheet.paragraph(contents.system, bold=True)


def _price(sheet: Sheet, contents: QuoteContents) -> None:
    """The price in a panel: rows on the left, what is to be paid large on the right."""
    sheet.ln(2)
    top, height = sheet.get_y(), 17.0
    sheet.set_fill_color(*rgb(LOOK.panel))
    sheet.rect(sheet.l_margin, top, sheet.epw, height, style="F")
    for number, (name, value) in enumerate(contents.prices[:-1]):
        sheet.letters()
        sheet.set_xy(sheet.l_margin + 4, top + 3.4 + 5.2 * number)
        sheet.cell(46, 5, sheet.words(name))
        sheet.cell(34, 5, sheet.words(value), align="R")
    name, value = contents.prices[-1]
    sheet.letters(SMALL + 0.5, colour=LOOK.muted)
    sheet.set_xy(sheet.l_margin, top + 2.4)
    sheet.cell(sheet.epw - 4, 4, sheet.words(name), align="R")
    sheet.letters(19, bold=True, colour=LOOK.ink)
    sheet.set_xy(sheet.l_margin, top + 6.6)
    sheet.cell(sheet.epw - 4, 9, sheet.words(value), align="R")
    sheet.set_xy(sheet.l_margin, top + height + 0.5)


def _signature(sheet: Sheet) -> None:
    if sheet.will_page_break(14):
        return  # no room left on the page: a line to sign on is no reason for a second one
    sheet.set_y(max(sheet.get_y() + 8, sheet.h - 31))
    sheet.set_draw_color(*rgb(LOOK.muted))
    sheet.set_line_width(0.2)
    at = sheet.get_y()
    for left, name in ((sheet.l_margin, "Agreed, name and signature"), (sheet.l_margin + sheet.epw * 0.68, "Date")):
        sheet.line(left, at, left + sheet.epw * (0.6 if left == sheet.l_margin else 0.32), at)
        sheet.set_xy(left, at + 0.6)
        sheet.letters(SMALL - 0.5, colour=LOOK.muted)
        sheet.cell(60, 4, name)
