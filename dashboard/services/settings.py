"""The settings of the firm that keeps a book: by them rates are read and money is written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.words import money

if TYPE_CHECKING:
    from pipeline.contract.firm import Firm
    from pipeline.store.book import Book


def settings(book: Book) -> Firm:
    """The firm's settings; this process writes money by them from now on. SettingsError names every fault."""
    firm = book.firm()
    money.use(firm)
    return firm
