"""Numbers to words: kilograms, times, money, counts, ranges and states, the same on every page."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING

from dashboard.words.money import decimals, in_force

if TYPE_CHECKING:
    from models.quantiles import Quantiles

MINUTES_PER_HOUR = 60
NO_BREAK = "\N{NO-BREAK SPACE}"
_BEFORE_UNIT = re.compile(r"(?<=[0-9]) (?=(?:kg|g|h|min|L|%|°C)(?!\w))|(?<=[0-9] h) (?=[0-9])")

EMITTER_STATES = {
    "not_started": "not started",
    "too_early": "too early to tell",
    "still_giving": "still giving",
    "levelled_off": "levelled off",
}
METHODS = {
    "typical_rule": "the usual job of this size",
    "per_emitter_rule": "kilograms an emitter",
    "boosted": "the forecast trained on past jobs",
}
PRICE_RULES = {
    "chance_of_loss": "your own limit on that chance sets the price",
    "margin": "your target margin sets the price",
    "lowest_price": "your lowest price for any job sets it",
}
TARGETS = {
    "magnetite_kg": "Magnetite, dry",
    "non_magnetic_kg": "Other debris, dry",
    "flush_minutes": "Flush time",
    "site_minutes": "Time on site",
}


def two_figures(value: float, most_decimals: int = 2) -> str:
    """A number to two significant figures, with at most `most_decimals` behind the point.

    >>> [two_figures(v) for v in (0.0123, 0.52, 2.13, 9.96, 13.5, 134.2, 0.0)]
    ['0.01', '0.52', '2.1', '10', '14', '134', '0']
    """
    if value == 0:
        return "0"
    rounded = float(f"{value:.1e}")
    decimals = min(most_decimals, max(0, 1 - math.floor(math.log10(abs(rounded)))))
    return f"{value:,.{decimals}f}"


def kilograms(value_kg: float | None) -> str:
    """Mass in kilograms with two figures; under 5 g it says so.

    >>> kilograms(2.13), kilograms(0.002), kilograms(None)
    ('2.1 kg', 'under 0.01 kg', 'not known')
    """
    if is_missing(value_kg):
        return "not known"
    assert value_kg is not None
    return "under 0.01 kg" if 0 < value_kg < 0.005 else f"{two_figures(value_kg)} kg"


def signed_kilograms(value_kg: float) -> str:
    """A change in kilograms with its sign: `+0.60 kg`, `−0.12 kg`."""
    return f"{_sign(value_kg)}{abs(value_kg):.2f} kg"


def duration(minutes: float | None) -> str:
    """Time as people on site say it.

    >>> duration(320), duration(300), duration(45), duration(59.7), duration(None)
    ('5 h 20', '5 h', '45 min', '1 h', 'not known')
    """
    if is_missing(minutes):
        return "not known"
    assert minutes is not None
    hours, rest = divmod(round(minutes), MINUTES_PER_HOUR)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h {rest:02d}" if rest else f"{hours} h"


def signed_duration(minutes: float) -> str:
    """A change in time with its sign: `+25 min`."""
    return f"{_sign(minutes)}{duration(abs(minutes))}"


def money(amount: float | None, currency: str, *, exact: bool = False) -> str:
    """An amount in whole units of the currency; `exact`: to the smallest coin, as a paper for a client states it.

    Written as the settings of the book that is open say (`currency_symbol`, `symbol_place`, `decimal_sign`,
    `thousands_sign`), else as is usual for the currency.

    >>> money(1234.4, "GBP"), money(-80, "EUR"), money(1234.4, "XYZ"), money(1234.4, "GBP", exact=True)
    ('£1,234', '−€80', '1,234\xa0XYZ', '£1,234.40')
    """
    if is_missing(amount):
        return "not known"
    assert amount is not None
    return in_force(currency).written(amount, decimals(currency) if exact else 0)


def signed_per_100(change: float) -> str:
    """A change of a share in jobs of a hundred, with its sign: `−1.6`, `±0`."""
    by = per_100(abs(change))
    return "±0" if by == "0.0" else f"{_sign(change)}{by}"


def per_100(value: float) -> str:
    """A share in jobs of a hundred: `10.4`."""
    return f"{100 * value:.1f}"


def separators(currency: str) -> str:
    """Decimal and thousands sign of a currency, as plotly takes them."""
    used = in_force(currency)
    return f"{used.decimal}{used.thousands}"


def count(number: int, one: str, many: str = "") -> str:
    """`1 job`, `1,200 jobs`.

    >>> count(1, "job"), count(1200, "job"), count(2, "match", "matches")
    ('1 job', '1,200 jobs', '2 matches')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def share(value: float | None) -> str:
    """A share as a percentage: `4 %`; `under 1 %` rather than a false nought.

    >>> share(0.104), share(0.004), share(0.0), share(None)
    ('10 %', 'under 1 %', '0 %', 'not known')
    """
    if is_missing(value):
        return "not known"
    assert value is not None
    if 0 < value < 0.005:
        return "under 1 %"
    return "over 99 %" if 0.995 < value < 1 else f"{100 * value:.0f} %"


def litres(value_l: float | None) -> str:
    """A volume in litres: whole from 10 L up, else one decimal."""
    if is_missing(value_l):
        return "not known"
    assert value_l is not None
    return f"{value_l:.0f} L" if value_l >= 10 else f"{value_l:.1f} L"


def kilograms_range(forecast: Quantiles) -> str:
    """Median and the range that holds 8 jobs in 10: `2.1 kg (1.2 to 3.9)`."""
    low, high = two_figures(max(0.0, forecast.p10)), two_figures(forecast.p90)
    return f"{kilograms(forecast.p50)} ({low} to {high})"


def duration_range(forecast: Quantiles) -> str:
    """Median and the range that holds 8 jobs in 10: `5 h 20 (4 h 10 to 7 h)`."""
    return f"{duration(forecast.p50)} ({duration(forecast.p10)} to {duration(forecast.p90)})"


def day(value: date | datetime | None) -> str:
    """A day: `4 March 2031`."""
    return "not known" if value is None else f"{value.day} {value:%B %Y}"


def window(first: date | None, last: date | None) -> str:
    """A span of days: `4 March 2029 to 11 May 2031`."""
    return "dates not known" if first is None or last is None else f"{day(first)} to {day(last)}"


def clock(moment: datetime, since: datetime | None = None) -> str:
    """Time of day, with the day's name when it is not the day of `since`."""
    same_day = since is None or moment.date() == since.date()
    return f"{moment:%H:%M}" if same_day else f"{moment:%a %H:%M}"


HYPHENATED = {code: code.replace("_", "-") for code in ("semi_detached", "open_vented", "two_pipe", "one_pipe")}


def plain(code: object) -> str:
    """A word of the job log as a person reads it: `open_vented` → `open-vented`, `panel_22` → `panel 22`.

    >>> plain("open_vented"), plain("panel_22"), plain("one_at_a_time"), plain(None)
    ('open-vented', 'panel 22', 'one at a time', 'not known')
    """
    if code is None or code == "" or code != code:
        return "not known"
    return HYPHENATED.get(str(code), str(code).replace("_", " "))


def listed(words: Sequence[str]) -> str:
    """Words in a row: `a, b and c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def unbroken(sentence: str) -> str:
    """The same with a space that no line ends at between a figure and its unit: "1.7 kg" and "3 h 24" stay whole."""
    return _BEFORE_UNIT.sub(NO_BREAK, sentence)


def is_missing(value: object) -> bool:
    """True for None, for a number that is no number, and for pandas' own mark of what is not known."""
    return value is None or type(value).__name__ == "NAType" or value != value


def _sign(value: float) -> str:
    return "−" if value < 0 else "+"
