"""How amounts are written: as usual for the currency, or as `firm.toml` says, in every place by one function."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard.words import money, wording
from pipeline.contract.firm import Firm, read_firm

N = money.NBSP


@pytest.fixture(autouse=True)
def _as_before() -> Iterator[None]:
    """What one test chooses is forgotten before the next."""
    kept = dict(money._chosen)
    money._chosen.clear()
    yield
    money._chosen.clear()
    money._chosen.update(kept)


@pytest.mark.parametrize(
    ("currency", "exact"),
    [
        ("GBP", "£12,345.60"),
        ("EUR", "€12,345.60"),
        ("JPY", "¥12,346"),
        ("CHF", f"CHF{N}12'345.60"),
        ("SEK", f"12{N}345,60{N}kr"),
        ("DKK", f"12.345,60{N}kr."),
        ("PLN", f"12{N}345,60{N}PLN"),
        ("XYZ", f"12,345.60{N}XYZ"),
    ],
)
def test_each_currency_is_written_as_at_home(currency: str, exact: str) -> None:
    """The ways of Unicode CLDR (from memory): de-CH, sv, da, pl; the euro as in English."""
    assert wording.money(12345.6, currency, exact=True) == exact


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ('currency = "EUR"\nsymbol_place = "after"\ndecimal_sign = "comma"', f"12.345,60{N}€"),
        ('currency = "EUR"\nthousands_sign = "space"', f"€12{N}345.60"),
        ('currency = "EUR"\nthousands_sign = "point"', "€12.345,60"),
        ('currency = "CAD"\ncurrency_symbol = "CA$"\nthousands_sign = "none"', "CA$12345.60"),
        ('currency = "GBP"', "£12,345.60"),
    ],
)
def test_the_firm_decides_and_the_two_signs_never_clash(settings: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "firm.toml").write_text(settings, encoding="utf-8")
    firm = read_firm(tmp_path / "firm.toml")

    money.use(firm)

    assert wording.money(12345.6, firm.currency, exact=True) == said


def test_a_minus_stands_before_the_symbol_and_never_before_nought() -> None:
    assert wording.money(-1234.4, "GBP") == "−£1,234"
    assert wording.money(-0.3, "GBP") == "£0"


def test_one_currency_chosen_leaves_the_others_as_usual() -> None:
    money.use(Firm(currency="EUR", symbol_place="after"))

    assert wording.money(5, "EUR") == f"5{N}€"
    assert wording.money(5, "GBP") == "£5"
    assert wording.separators("EUR") == ".,"


def test_the_papers_of_a_book_write_money_as_its_settings_say(tmp_path: Path) -> None:
    from datetime import date

    from dashboard.papers.sheet import letterhead

    letterhead(Firm(currency="SEK", symbol_place="before"), tmp_path, "Quote", date(2031, 3, 4))

    assert wording.money(1234, "SEK") == f"kr{N}1{N}234"
