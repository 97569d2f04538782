"""What pages share: the look in force, a chart with its table twin, refusals, and the notes below."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd
import streamlit as st

from dashboard import data, theme
from dashboard.words import wording
from dashboard.words.literal import literal
from dashboard.words.simulated_words import simulated_part
from pipeline.contract.findings import Finding

if TYPE_CHECKING:
    import plotly.graph_objects as go


SHEET_WIDTH = 1120
"""Widest a page grows [px]: longer lines are hard to read."""
SHORT_ROWS = 25
"""A table of so many rows is shown whole; a longer one scrolls in its own frame."""
SETTLING_SECONDS = 0.25
"""Long enough for a browser to draw the empty page."""
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def brand() -> None:
    """The mark and name above the list of pages."""
    st.logo(theme.MARK, size="large")
    st.html(theme.style(current_look()))


def sheet() -> Any:
    """The column that every page is drawn in."""
    return st.container(width=SHEET_WIDTH)


def from_the_top(count: int, *, is_new: bool) -> list[Any]:
    """Containers one below the other. When what they show `is_new`, the reader is brought to the top of the page.

    A browser keeps its place on a page that changes under it. So the page is left empty for a moment: an empty page
    has no other place than its top. (A script could scroll, but pages do without where they can.)
    """
    places = [st.empty() for _ in range(count)]
    if is_new:
        time.sleep(SETTLING_SECONDS)
    return [place.container() for place in places]


def banner() -> None:
    """A line on every page for as long as the book holds a simulated job."""
    shelf = data.shelf()
    if shelf.state != "ready":
        return
    held = data.holdings(shelf.build)
    said = simulated_part(held.simulated_jobs, held.jobs)
    if said:
        small(f":material/science: **{said}**")


def open_build(shows: str) -> str:
    """The build to read. Without one: says what this page `shows` once there is, what to do next, and stops."""
    shelf = data.shelf()
    if shelf.state == "ready":
        return shelf.build
    instead(shelf.sentence, f"With jobs in the book, this page shows {shows}.")
    if shelf.state == "empty":
        st.page_link("app_pages/intake.py", label="Hand in job logs", icon=":material/move_to_inbox:")
    st.markdown("To look around first: `sludgebook demo` makes an invented firm with its own book and opens it here.")
    st.stop()


def open_build_if_any(shows: str) -> str:
    """The build to read, or an empty text while the book is empty; stops where no book can be read."""
    return "" if data.shelf().state == "empty" else open_build(shows)


def current_look() -> theme.Look:
    """The look that fits the theme of the browser."""
    return theme.look(st.context.theme.type)


def answer(sentence: str, detail: str = "") -> None:
    """The page's answer, first and large; `detail` says what the ranges mean. Both are plain text."""
    st.header(wording.unbroken(literal(sentence)), anchor=False)
    if detail:
        small(literal(detail))


def small(sentence: str) -> None:
    """Markdown, smaller and quieter, yet dark enough to be read: the caption of the library is not, on white."""
    st.markdown(f":small[:gray[{sentence}]]")


def chart(figure: go.Figure, *, key: str, alt: str, rows: pd.DataFrame, file_name: str) -> None:
    """A figure, with the same numbers below as a table and as a CSV file to keep."""
    st.plotly_chart(figure, key=key, alt=alt, theme=None, config=theme.SETTINGS)
    with st.expander("The same as a table", key=f"{key}_table", type="compact"):
        table(rows, key=key, file_name=file_name, alt=alt)


def table(rows: pd.DataFrame, *, key: str, file_name: str, alt: str) -> None:
    """A table and the button that saves it as CSV."""
    height: Literal["content", "auto"] = "content" if len(rows) <= SHORT_ROWS else "auto"
    st.dataframe(rows, hide_index=True, alt=alt, key=f"{key}_rows", placeholder="–", height=height)
    st.download_button(
        "Save as CSV",
        lambda: csv_bytes(rows),  # made when it is asked for
        file_name,
        "text/csv",
        key=f"{key}_csv",
        on_click="ignore",
        icon=":material/download:",
    )


def csv_bytes(rows: pd.DataFrame) -> bytes:
    """A table as CSV; text that a spreadsheet would run as a formula is escaped with an apostrophe, as in `export`."""
    plain = rows.copy()
    for place, kind in enumerate(plain.dtypes):
        if pd.api.types.is_string_dtype(kind) or pd.api.types.is_object_dtype(kind):
            cells = [
                f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA_STARTS) else cell
                for cell in plain.iloc[:, place]
            ]
            plain.isetitem(place, np.array(cells, dtype=object))
    return plain.to_csv(index=False).encode("utf-8")


def instead(sentence: str, remedy: str = "") -> None:
    """A refusal, in the place where the number would stand: what is missing (plain text), what to do (Markdown)."""
    st.info(f"**{literal(sentence)}**" + (f"\n\n{remedy}" if remedy else ""), icon=":material/help:")


def notes(findings: Sequence[Finding]) -> None:
    """What a person should know about the answer above, one sentence each."""
    for finding in findings:
        st.warning(literal(finding.sentence), icon=":material/error:")


def caution(sentence: str) -> None:
    """A safety caution, once a page, where the work it is about comes up."""
    small(f":material/health_and_safety: {sentence}")
