"""Parts of "Intake": what became of every row, the rejects with their reasons, and empty templates."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import data, tallies, wording
from dashboard.app_parts import frame

if TYPE_CHECKING:
    from dashboard.data import Shelf
    from pipeline.load import LoadReport

COUNTS = {
    "rows": "Rows", "accepted": "Accepted", "rejected": "Rejected", "duplicates": "Already there",
    "waiting": "Waiting for their job", "superseded": "Replaced later",
}  # fmt: skip
REJECT_COLUMNS = {
    "file": "File", "table": "Table", "table_name": "Table", "line": "Line", "column": "Column",
    "column_name": "Column", "value": "Value", "reason": "Reason",
}  # fmt: skip
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def draw_standing(shelf: Shelf) -> None:
    """One sentence on what the book holds now."""
    if shelf.state != "ready":
        frame.answer("Nothing is in the book yet: 0 jobs.", "Hand in one folder's files at once, so that every row "
                     "finds its job.")  # fmt: skip
        return
    held, faults = data.holdings(shelf.build), len(data.table(shelf.build, "rejects"))
    frame.answer(
        f"The book holds {wording.count(held.jobs, 'job')} and {wording.count(held.catches, 'weighing')}; "
        f"{wording.count(faults, 'fault')} kept rows out.",
        f"Visits {wording.window(held.first_visit, held.last_visit)}. Handing the same file in twice changes nothing.",
    )


def draw_report(report: LoadReport) -> None:
    """What became of the files just handed in."""
    counts = pd.DataFrame(
        [
            {"Table": name, **{words: getattr(of, field) for field, words in COUNTS.items()}}
            for name, of in report.tables.items()
        ]
    )
    rows, accepted = int(counts["Rows"].sum()), int(counts["Accepted"].sum())
    st.header("Just handed in", anchor=False)
    fresh = "" if report.is_new else " These files were in the book already, so nothing changed."
    st.markdown(
        f"**{accepted:,} of {wording.count(rows, 'row')} accepted, "
        f"{int(counts['Rejected'].sum()):,} rejected** in {report.seconds:.1f} s.{fresh}"
    )
    frame.notes(report.findings)
    frame.table(counts, key="intake_counts", file_name="intake.csv", alt="What became of the rows, by table")
    rejects = pd.DataFrame([{words: getattr(r, field) for field, words in REJECT_COLUMNS.items() if hasattr(r, field)}
                            for r in report.rejects])  # fmt: skip
    draw_rejects(rejects, "intake_rejects")


def draw_history(build: str) -> None:
    """Every batch so far, and every reject in the book."""
    st.header("Handed in so far", anchor=False)
    ledger = tallies.ledger_in_words(data.table(build, "ledger"))
    frame.table(ledger, key="intake_ledger", file_name="ledger.csv", alt="What became of the rows, by batch and file")
    faults = data.table(build, "rejects").rename(columns=REJECT_COLUMNS)
    draw_rejects(faults.reindex(columns=["File", "Table", "Line", "Column", "Value", "Reason"]), "intake_all_rejects")


def draw_rejects(rejects: pd.DataFrame, key: str) -> None:
    """The rejected rows with their reasons, to read and to take away."""
    st.header("Rows kept out, and why", anchor=False)
    if rejects.empty:
        st.markdown("None: every row was accepted, or was there already.")
        return
    st.markdown(
        f"{wording.count(len(rejects), 'fault')}. Correct the cell in your own file and hand the file in again: "
        "the new version of the row counts."
    )
    st.dataframe(rejects, hide_index=True, key=key, alt="Rejected rows with file, line, column, value and reason")
    with st.container(horizontal=True):
        st.download_button("Rejects as CSV", rejects.to_csv(index=False).encode("utf-8"), "rejects.csv", "text/csv",
                           key=f"{key}_csv", on_click="ignore", icon=":material/download:")  # fmt: skip
        st.download_button("Rejects as XLSX", as_xlsx(rejects), "rejects.xlsx", XLSX, key=f"{key}_xlsx",
                           on_click="ignore", icon=":material/download:")  # fmt: skip


def as_xlsx(rows: pd.DataFrame) -> bytes:
    """A frame as one worksheet."""
    buffer = io.BytesIO()
    with pd.ExcelWriter(buffer, engine="xlsxwriter") as writer:
        rows.to_excel(writer, sheet_name="rejects", index=False)
    return buffer.getvalue()


def draw_templates() -> None:
    """Empty files to fill in, with the allowed words as drop-down lists in the workbook."""
    st.header("Empty files to fill in", anchor=False)
    st.markdown("One row a job, emitter, weighing, reading or return visit. Empty means not known, never no or 0.")
    files = data.templates()
    book = next(name for name in files if name.endswith(".xlsx"))
    with st.container(horizontal=True):
        st.download_button("Workbook with drop-down lists", files[book], book, XLSX, key="intake_template_xlsx",
                           on_click="ignore", icon=":material/download:")  # fmt: skip
        st.download_button("CSV files, zipped", as_zip(files), "job_log_csv.zip", "application/zip",
                           key="intake_template_csv", on_click="ignore", icon=":material/download:")  # fmt: skip


def as_zip(files: dict[str, bytes]) -> bytes:
    """The CSV files among `files` as one archive."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            if name.endswith(".csv"):
                archive.writestr(name, content)
    return buffer.getvalue()
