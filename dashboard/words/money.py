"""How an amount of money is written: symbol and its place, decimal and thousands sign, by currency or `firm.toml`.

The usual ways are those of the currency's own country (Unicode CLDR, from memory); the euro stands as in English. A
symbol that not every PDF reader can write (zł, Kč) gives way to the code.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from pipeline.contract.firm import Firm

Place = Literal["before", "after"]
NBSP = "\u00a0"
"""Keeps an amount on one line."""
SIGNS = {"point": ".", "comma": ",", "space": NBSP, "apostrophe": "'", "none": ""}
WHOLE_COINS = ("JPY", "KRW", "ISK", "CLP")
"""Currencies without a smaller coin (ISO 4217, minor unit 0; from memory)."""


@dataclass(frozen=True, slots=True)
class MoneyFormat:
    """How amounts of one currency are written. A symbol of letters, or one that stands after, keeps a space."""

    symbol: str
    place: Place
    decimal: str
    thousands: str

    def written(self, amount: float, decimals: int) -> str:
        """The amount with its symbol; a minus sign stands before both.

        >>> MoneyFormat("£", "before", ".", ",").written(-1234.5, 2), MoneyFormat("€", "after", ",", ".").written(9, 0)
        ('−£1,234.50', '9\\xa0€')
        """
        plain = f"{abs(amount):,.{decimals}f}"
        sign = "−" if amount < 0 and float(plain.replace(",", "")) else ""
        value = plain.translate({ord(","): self.thousands, ord("."): self.decimal})
        if self.place == "after":
            return f"{sign}{value}{NBSP}{self.symbol}"
        return f"{sign}{self.symbol}{NBSP if self.symbol[-1:].isalpha() else ''}{value}"


_ENGLISH = (".", ",")
_USUAL: dict[str, MoneyFormat] = {
    code: MoneyFormat(symbol, "before", *_ENGLISH)
    for code, symbol in {"GBP": "£", "EUR": "€", "USD": "$", "CAD": "$", "AUD": "$", "NZD": "$", "JPY": "¥"}.items()
} | {
    "CHF": MoneyFormat("CHF", "before", ".", "'"),
    "SEK": MoneyFormat("kr", "after", ",", NBSP),
    "NOK": MoneyFormat("kr", "after", ",", NBSP),
    "DKK": MoneyFormat("kr.", "after", ",", "."),
    "PLN": MoneyFormat("PLN", "after", ",", NBSP),
    "CZK": MoneyFormat("CZK", "after", ",", NBSP),
    "HUF": MoneyFormat("Ft", "after", ",", NBSP),
}
_chosen: dict[str, MoneyFormat] = {}


def usual(currency: str) -> MoneyFormat:
    """How amounts of a currency are usually written; of one not known, with its code after, signs as in English."""
    return _USUAL.get(currency, MoneyFormat(currency, "after", *_ENGLISH))


def chosen(firm: Firm) -> MoneyFormat:
    """As the firm's settings say; `auto` and an empty symbol are the usual."""
    base = usual(firm.currency)
    decimal = base.decimal if firm.decimal_sign == "auto" else SIGNS[firm.decimal_sign]
    thousands = base.thousands if firm.thousands_sign == "auto" else SIGNS[firm.thousands_sign]
    if firm.thousands_sign == "auto" and thousands == decimal:
        thousands = "," if decimal == "." else "."
    if firm.decimal_sign == "auto" and decimal == thousands:
        decimal = "." if thousands == "," else ","
    place: Place = base.place if firm.symbol_place == "auto" else "before" if firm.symbol_place == "before" else "after"
    return MoneyFormat(firm.currency_symbol or base.symbol, place, decimal, thousands)


def use(firm: Firm) -> None:
    """From now on this process writes amounts in the firm's currency as its settings say: it serves one book."""
    _chosen[firm.currency] = chosen(firm)


def in_force(currency: str) -> MoneyFormat:
    """How this process writes amounts of a currency."""
    return _chosen.get(currency) or usual(currency)


def decimals(currency: str) -> int:
    """Decimals of the smallest coin."""
    return 0 if currency in WHOLE_COINS else 2
