"""Files handed in to the open book, and, kept by build, what was not accepted of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.data.opened import ENTRIES, book, own_view
from dashboard.services import intake
from dashboard.services.intake import Uploads, mapping_sheet

__all__ = ["Uploads", "load_files", "mapping_sheet", "open_rejects", "reject_workbook", "templates"]

if TYPE_CHECKING:
    from pipeline.intake.load_report import LoadReport
    from pipeline.mapping.confirmed_mapping import Mapping


def load_files(files: Uploads, mapping: Mapping | None = None) -> LoadReport:
    """Hand uploaded files, as (name, content), in to the book. SludgebookError says why nothing was received.

    A mapping says what the firm's own headings mean; the book keeps it.
    """
    return intake.load_uploads(book(), files, mapping)


def open_rejects(build: str) -> pd.DataFrame:
    """Faults of rejected rows that were not handed in again since: file, table, line, column, value, reason."""
    return own_view(_open_rejects(build))


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def _open_rejects(build: str) -> pd.DataFrame:
    faults = pd.DataFrame(intake.reject_faults(book()), columns=["file", "table", "line", "column", "value", "reason"])
    return faults.astype({"line": "Int64"})  # a file set aside whole has no line


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def reject_workbook(build: str, batch: str | None) -> bytes:
    """Open rejects of the book, or of one batch, as a workbook with the bad cells marked; empty for none. BadInput."""
    from pipeline.intake.uploads import reject_bytes

    return reject_bytes(book(), batch)


@st.cache_data(max_entries=1, show_spinner=False)
def templates() -> dict[str, bytes]:
    """Empty files to fill in, by file name: one CSV a table and one workbook."""
    return intake.empty_files()
