"""The owner's sheet: how the price comes about, the chance of loss, why, and how far the forecast can be trusted."""

from __future__ import annotations

from dashboard.papers.drawing import Axis, DrawnLine, curves, likely
from dashboard.papers.quote_contents import QuoteContents
from dashboard.papers.sheet import LOOK, SMALL, Letterhead, Sheet
from dashboard.words import callback_words, wording
from models.quote.base.quote_result import Price, Quote, Target, Why

TITLE = "Price, for the owner"


def owner_sheet(contents: QuoteContents, quote: Quote, head: Letterhead) -> bytes:
    """The paper behind a quote; not for the client."""
    sheet = Sheet(head)
    sheet.letters(SMALL + 1, colour=LOOK.muted)
    sheet.cell(sheet.epw, 5, sheet.fitted(f"Job {contents.job}   |   {wording.day(contents.quoted_on)}", sheet.epw))
    sheet.ln(6)
    sheet.paragraph(answer(quote), bold=True)
    sheet.paragraph(contents.system)
    _forecasts(sheet, quote)
    _price(sheet, quote.price)
    for why in quote.why[:2]:
        _why(sheet, why)
    _nearest(sheet, quote)
    _basis(sheet, quote, contents.findings)
    return sheet.as_bytes()


def answer(quote: Quote) -> str:
    """The sheet's first sentence: the price, its chance of loss, and what decided it."""
    price = quote.price
    chance = price.accepted_chance_of_loss if price.chance_of_loss is None else price.chance_of_loss
    return (
        f"Ask {wording.money(price.price, price.currency)} before tax: about {wording.share(chance)} of such jobs "
        f"would lose money at that; {wording.PRICE_RULES[price.set_by]}."
    )


def _forecasts(sheet: Sheet, quote: Quote) -> None:
    sheet.heading("What the job will give and take")
    hours, kilograms = Axis("", wording.duration, 60), Axis("", lambda v: f"{v:g} kg")
    drawn: tuple[tuple[Target, str, Axis], ...] = (
        ("site_minutes", LOOK.ink, hours),
        ("flush_minutes", LOOK.flow, hours),
        ("magnetite_kg", LOOK.debris, kilograms),
        ("non_magnetic_kg", LOOK.debris, kilograms),
    )
    for target, colour, axis in drawn:
        likely(sheet, wording.TARGETS[target], quote.forecasts[target].quantiles, colour, axis)
    sheet.paragraph(
        f"Bar: 8 such jobs in 10; line: 9 in 10; mark: the middle. A second day in {wording.share(quote.second_day)}.",
        size=SMALL,
        colour=LOOK.muted,
    )


def _price(sheet: Sheet, price: Price) -> None:
    rows = [(part.name, wording.money(part.amount, price.currency, exact=True)) for part in price.parts if part.amount]
    sheet.heading("What it costs, at the middle forecast", len(rows) + 2)
    sheet.rows([*rows, ("Cost before tax", wording.money(price.cost.p50, price.currency, exact=True))], last_bold=True)
    sheet.paragraph(
        f"8 such jobs in 10 cost between {wording.money(price.cost.p10, price.currency)} and "
        f"{wording.money(price.cost.p90, price.currency)}. Target margin {wording.share(price.target_margin_share)}, "
        f"accepted chance of loss {wording.share(price.accepted_chance_of_loss)}.",
        size=SMALL,
        colour=LOOK.muted,
    )
    if price.callbacks is not None:
        told = callback_words.callbacks(price.callbacks, price.currency)
        sheet.paragraph(told, size=SMALL, colour=LOOK.muted)
    sheet.heading("Price against the chance of losing money")
    points = tuple((point.price, 100 * point.chance_of_loss) for point in price.curve)
    asked = ((price.price, 0.0), (price.price, max(y for _, y in points)))
    curves(
        sheet,
        [DrawnLine(points, LOOK.ink, "chance of loss"), DrawnLine(asked, LOOK.accent, "asked", is_expected=True)],
        Axis(f"Price before tax [{price.currency}]", lambda v: wording.money(v, price.currency)),
        Axis("Jobs that lose money [%]", lambda v: f"{v:g}"),
        height=38,
        is_from_nought=False,
    )


def _why(sheet: Sheet, why: Why) -> None:
    is_mass = why.unit == "kg"
    shown = wording.kilograms if is_mass else wording.duration
    signed = wording.signed_kilograms if is_mass else wording.signed_duration
    sheet.heading(f"Why: {wording.TARGETS[why.target].lower()}", len(why.reasons) + 2)
    rows = [("A usual job", shown(why.usual))]
    rows += [(reason.group.capitalize(), signed(reason.amount)) for reason in why.reasons]
    sheet.rows([*rows, ("This job, in the middle", shown(why.median))], last_bold=True)


def _nearest(sheet: Sheet, quote: Quote) -> None:
    if not quote.similar_jobs:
        return
    sheet.heading("The nearest past jobs")
    rows = [
        (
            job.job_id,
            wording.plain(job.system_type),
            "" if job.emitter_count is None else str(job.emitter_count),
            wording.kilograms(job.magnetite_kg),
            wording.kilograms(job.non_magnetic_kg),
            wording.duration(job.site_minutes),
        )
        for job in quote.similar_jobs
    ]
    heads = ("Job", "System", "Emitters", "Magnetite, dry", "Other debris", "On site")
    sheet.grid(heads, rows, (0.22, 0.16, 0.12, 0.18, 0.16, 0.16))


def _basis(sheet: Sheet, quote: Quote, findings: tuple[str, ...]) -> None:
    basis = quote.basis
    sheet.heading("What it rests on")
    lines = [
        f"{wording.METHODS[basis.method].capitalize()}: {wording.count(basis.finished_jobs, 'finished job')}, "
        f"{wording.window(basis.window_from, basis.window_to)}; ranges set by {basis.calibration_jobs} of them.",
        *findings,
    ]
    sheet.bullets(lines, size=SMALL + 0.7)
