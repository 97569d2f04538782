"""Files handed in to the book, what their headings mean, and what was not accepted of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.data.opened import ENTRIES, book

if TYPE_CHECKING:
    from pipeline.intake.load_report import LoadReport
    from pipeline.mapping.confirmed_mapping import Mapping as Mapped
    from pipeline.mapping.mapping_editor import MappingSheet

Uploads = Sequence[tuple[str, bytes]]


def load_files(files: Uploads, mapping: Mapped | None = None) -> LoadReport:
    """Hand uploaded files, as (name, content), in to the book. SludgebookError says why nothing was received.

    A mapping says what the firm's own headings mean; the book keeps it.
    """
    from pipeline.intake.load import load
    from pipeline.intake.uploads import beside_kept, laid_out

    with TemporaryDirectory() as folder:
        mapping_file = beside_kept(mapping, book(), Path(folder)) if mapping is not None else None
        return load(laid_out(files, Path(folder)), book(), mapping_file=mapping_file)


def mapping_sheet(files: Uploads, heading_line: int = 0) -> MappingSheet | None:
    """What the firm's own headings in uploaded files may mean, to confirm; None where there is nothing to propose.

    `heading_line` is the line that the headings stand on, 0 to find it.
    """
    from pipeline.intake.uploads import sheet_for

    with TemporaryDirectory() as folder:
        return sheet_for(files, Path(folder), heading_line)


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def open_rejects(build: str) -> pd.DataFrame:
    """Faults of rejected rows that were not handed in again since: file, table, line, column, value, reason."""
    from pipeline.intake.uploads import open_faults

    faults = pd.DataFrame(open_faults(book()), columns=["file", "table", "line", "column", "value", "reason"])
    return faults.astype({"line": "Int64"})  # a file set aside whole has no line


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def reject_workbook(build: str, batch: str | None) -> bytes:
    """Open rejects of the book, or of one batch, as a workbook with the bad cells marked; empty for none. BadInput."""
    from pipeline.intake.uploads import reject_bytes

    return reject_bytes(book(), batch)


@st.cache_data(max_entries=1, show_spinner=False)
def templates() -> dict[str, bytes]:
    """Empty files to fill in, by file name: one CSV a table and one workbook."""
    from pipeline.contract.templates import write_templates

    with TemporaryDirectory() as folder:
        return {path.name: path.read_bytes() for path in write_templates(Path(folder))}
