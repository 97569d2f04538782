"""What nobody foresaw: written down in the book with what was open, and told on the page in a sentence.

The log stays on this machine; it names the job that was open and holds no more of it than a fault happens to quote.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

import streamlit as st

from dashboard import fault_log
from dashboard.words.literal import literal

OPEN = ("site_job", "book_job", "watch_job", "price_quote", "intake_sheet", "audit_practice", "audit_engineer")
"""Entries of a page's memory that say what was open on it."""
_LONGEST = 80


def tell(fault: BaseException) -> bool:
    """Write a fault of a page down and say so on the page, in place of the library's own words."""
    path = write_down(fault, what_was_open())
    where = "It could not be written down either." if path is None else f"It is written down in {path}."
    st.error(
        literal(
            f"This page met a fault of its own. {where} What was said to be saved is saved. Load the page again; if it "
            "comes back, send that file to whoever looks after Sludgebook for you."
        ),
        icon=":material/error:",
    )
    return True


def what_was_open() -> dict[str, str]:
    """The page, what its address says, and what was chosen on it."""
    state = {name: st.session_state.get(name) for name in OPEN}
    known = {name: value for name, value in state.items() if value is not None}
    found = {name: value if isinstance(value, str | int) else "yes" for name, value in known.items()}
    return {"page": str(st.context.url), **{name: str(value)[:_LONGEST] for name, value in found.items()}}


def write_down(fault: BaseException, was_open: dict[str, str]) -> Path | None:
    """Append a fault to the log of the book that is open; where it stands, None where it could not be written."""
    from dashboard.data.opened import BOOK_VARIABLE  # late: its caches ask for a server that runs

    folder = os.environ.get(BOOK_VARIABLE, "").strip()
    if not folder:
        return None
    with suppress(OSError):
        Path(folder).mkdir(parents=True, exist_ok=True)
    opened = ", ".join(f"{name} {value}" for name, value in was_open.items())
    return fault_log.write_down(Path(folder), f"open: {opened}", fault)
