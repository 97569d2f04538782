"""The quote as plain text: the same words as on the paper, for an e-mail."""

from __future__ import annotations

import textwrap

from dashboard.papers.quote_contents import QuoteContents
from dashboard.words import wording
from pipeline.contract.controls import shown
from pipeline.contract.firm import Firm

WIDTH = 78


def quote_text(contents: QuoteContents, firm: Firm) -> str:
    """The client's quote in lines of at most 78 characters."""
    lines = [firm.name] + ([firm.tagline] if firm.tagline else [])
    lines += [
        "",
        f"Quote for job {contents.job}",
        f"Date: {wording.day(contents.quoted_on)}",
        f"Valid until: {wording.day(contents.valid_until)}",
        "",
    ]
    lines += _wrapped(contents.system)
    lines += ["", "WHAT IS OFFERED", *_bullets(contents.offered)]
    lines += ["", "PRICE", *(_row(*row) for row in contents.prices)]
    lines += ["", "WHAT TO EXPECT", *_wrapped(contents.expected)]
    lines += ["", "WHAT IT ASSUMES", *_bullets(contents.assumed)]
    lines += ["", "WHAT COULD CHANGE IT", *_bullets(contents.could_change)]
    lines += ["", "PLEASE NOTE", *_bullets(contents.cautions)]
    return shown("\n".join(lines)) + "\n"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH)


def _bullets(lines: tuple[str, ...]) -> list[str]:
    return [part for line in lines for part in textwrap.wrap(line, WIDTH, initial_indent="- ", subsequent_indent="  ")]


def _row(name: str, value: str) -> str:
    return f"{name:<{WIDTH - len(value) - 1}} {value}"
