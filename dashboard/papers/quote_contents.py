"""What a quote says to a client and to the owner, in words and rows: one content for the PDF and for plain text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from dashboard.words import wording
from models.quote.base.quote_result import Quote
from pipeline.contract.firm import Firm

CAUTIONS: tuple[str, ...] = (
    "Work on a gas appliance or fitting is for registered people only; it is no part of this offer.",
    "Old pipe, valves and thin emitters can leak once the sludge is out. Tell us of any that are known to be weak.",
    "The water is hot and holds chemicals on the day: keep children and animals away from hoses and machine.",
    "Strong magnets are used: people with a pacemaker or another implant should keep well away from them.",
    "Waste water goes to the foul sewer only where that is permitted; local rules come first.",
)
"""Common practice, no source; local codes and licensed practice come first."""

_UNKNOWN: tuple[tuple[str, str], ...] = (
    ("age_years", "the age of the system"),
    ("main_bore_mm", "the size of the main pipes"),
    ("topups_per_year", "how often it is topped up"),
    ("cold_count", "how many emitters stay cold"),
    ("known_building_debris", "whether there was building work"),
)


@dataclass(frozen=True, slots=True)
class QuoteContents:
    """A quote in words. `offered`, `assumed`, `could_change` and `cautions` are sentences, `prices` rows of words;
    `findings`, what to know of the records, the request and the model's age, is for the owner only."""

    job: str
    quoted_on: date
    valid_until: date
    system: str
    offered: tuple[str, ...]
    prices: tuple[tuple[str, str], ...]
    expected: str
    assumed: tuple[str, ...]
    could_change: tuple[str, ...]
    cautions: tuple[str, ...]
    findings: tuple[str, ...] = ()


def contents(quote: Quote, asked: Mapping[str, Any], firm: Firm, on: date, job: str = "") -> QuoteContents:
    """Of a quote and the features it was made from (a row of `ftr_quote`); `on` is the day of the quote."""
    price = quote.price
    tax = price.price_with_tax - price.price
    return QuoteContents(
        job=job or quote.job_id,
        quoted_on=on,
        valid_until=firm.valid_until(on),
        system=_system(quote, asked),
        offered=_offered(quote, asked),
        prices=(
            ("Price before tax", wording.money(price.price, price.currency, exact=True)),
            (f"Tax ({wording.share(firm.tax_share)})", wording.money(tax, price.currency, exact=True)),
            ("Price to pay", wording.money(price.price_with_tax, price.currency, exact=True)),
        ),
        expected=_expected(quote),
        assumed=_assumed(quote, asked),
        could_change=_could_change(quote, asked),
        cautions=CAUTIONS,
        findings=tuple(finding.sentence for finding in quote.findings),
    )


def known(value: object) -> bool:
    """Whether an answer was given at all."""
    return not (value is None or value is pd.NA or value != value or value == "")


def _system(quote: Quote, asked: Mapping[str, Any]) -> str:
    parts = []
    if known(asked.get("system_type")):
        parts.append(f"{wording.plain(asked['system_type'])} heating system".capitalize())
    else:
        parts.append("Heating system")
    if known(asked.get("emitter_count")):
        parts.append(f"with {wording.count(int(asked['emitter_count']), 'emitter')}")
    volume = quote.volume
    parts.append(
        f"holding about {wording.litres(volume.mid_l)} of water "
        f"(between {wording.litres(volume.low_l)} and {wording.litres(volume.high_l)})"
    )
    return " ".join(parts) + "."


def _offered(quote: Quote, asked: Mapping[str, Any]) -> tuple[str, ...]:
    days = asked.get("predose_days")
    lines = []
    if known(days) and float(str(days)) >= 1:
        lines.append(
            f"Cleaning chemical put in {wording.count(round(float(str(days))), 'day')} ahead, at the dose on its label."
        )
    lines += [
        "The whole system flushed by machine, with magnets and traps that are weighed as the work goes on.",
        f"About {wording.litres(quote.volume.cleaner_dose_l)} of cleaning chemical and "
        f"{wording.litres(quote.volume.inhibitor_dose_l)} of corrosion inhibitor, measured to the system's water.",
        "Rinsed until the water is close to the mains supply's and clear, then treated with inhibitor whose strength "
        "is tested.",
        "A magnetic filter on the return, unless one is there already: then that one is cleaned.",
        "A written report of what came out, the water before and after, and what was fitted and dosed.",
    ]
    return tuple(lines)


def _expected(quote: Quote) -> str:
    kilos, minutes = quote.forecasts["magnetite_kg"].quantiles, quote.forecasts["site_minutes"].quantiles
    chance = wording.share(quote.second_day)
    second = f" There is a chance of {chance} that a second day is needed; the price allows for it."
    return (
        f"We expect to be on site for {wording.duration_range(minutes)} and to bring out "
        f"{wording.kilograms_range(kilos)} of magnetite sludge, weighed dry; the ranges hold for 8 such jobs in 10."
        + (second if quote.second_day >= 0.01 else "")
    )


def _assumed(quote: Quote, asked: Mapping[str, Any]) -> tuple[str, ...]:
    basis = quote.basis
    lines = []
    if basis.finished_jobs:
        past = wording.count(basis.finished_jobs, "finished job")
        lines.append(f"The forecast rests on {past} on record ({wording.window(basis.window_from, basis.window_to)}).")
    else:
        lines.append("No finished jobs are on record yet: the forecast is a rule of thumb with a wide range.")
    if basis.simulated_share > 0:
        lines.append(f"{wording.share(basis.simulated_share)} of these records are simulated: this is not an offer.")
    lines.append("Valves can be opened and shut, drains are clear, and water, power and access are there on the day.")
    if known(asked.get("heat_source")):
        lines.append(f"Heat for the flush: {wording.plain(asked['heat_source'])}.")
    return tuple(lines)


def _could_change(quote: Quote, asked: Mapping[str, Any]) -> tuple[str, ...]:
    lines = [f"This system is unlike past jobs in: {'; '.join(quote.basis.outside)}."] if quote.basis.outside else []
    unknown = [words for name, words in _UNKNOWN if not known(asked.get(name))]
    if not asked.get("water_known"):
        unknown.append("what a sample of the water would show")
    if unknown:
        lines.append(f"Not known at the survey: {wording.listed(unknown)}.")
    lines.append("Blocked pipes, seized valves, leaks and faults that show only once the work has begun.")
    lines.append("Anything more than what is listed above is agreed with you, in writing, before it is done.")
    return tuple(lines)
