"""Parts of "Intake": what became of every row, the rejects with their reasons, and empty templates."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, Any

import pandas as pd
import streamlit as st

from dashboard import data, tallies
from dashboard.app_parts import frame
from dashboard.kept import kept
from dashboard.words import wording
from dashboard.words.literal import literal
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    from dashboard.data import Shelf, Uploads
    from pipeline.intake.load_report import LoadReport

KINDS = ("csv", "tsv", "txt", "xlsx", "ods", "parquet", "jsonl", "ndjson", "zip", "xls", "xlsb", "xlsm")
"""Endings that are taken; the last three to say how to save them so that they can be read."""

COUNTS = {
    "rows": "Rows",
    "accepted": "Accepted",
    "rejected": "Rejected",
    "duplicates": "Already there",
    "waiting": "Waiting for their job",
    "superseded": "Replaced later",
}
REJECT_COLUMNS = {
    "file": "File",
    "table": "Table",
    "line": "Line",
    "column": "Column",
    "value": "Value",
    "reason": "Reason",
}
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def forget() -> None:
    """Other files were chosen: what was said about the ones before no longer holds."""
    for name in ("intake_report", "intake_refusal", "intake_sheet", "intake_line"):
        st.session_state.pop(name, None)


def hand_in(files: Uploads, mapping: Any = None) -> None:
    """Hand files in and keep the report, or the refusal, for the page; with it what their own headings may mean.

    A refusal of a mapping leaves the sheet on the page, to be answered again.
    """
    sheet = st.session_state.get("intake_sheet") if mapping is not None else None
    forget()
    try:
        with st.spinner("Checking every row and building the book anew"):
            report = data.load_files(files, mapping)
    except SludgebookError as problem:
        st.session_state["intake_refusal"] = problem.sentence
        st.session_state["intake_sheet"] = sheet or data.mapping_sheet(files)
        return
    st.session_state["intake_report"] = report
    st.session_state["intake_kept"] = mapping is not None
    if mapping is None and any(finding.code == "file_left_aside" for finding in report.findings):
        st.session_state["intake_sheet"] = data.mapping_sheet(files)


def sheet_headed(files: Uploads, line: int) -> Any:
    """What the headings may mean when they stand on this line, worked anew only when the line is another."""
    if line != st.session_state.get("intake_line", 0):
        st.session_state["intake_line"] = line
        st.session_state["intake_sheet"] = data.mapping_sheet(files, line) or st.session_state.get("intake_sheet")
    return st.session_state.get("intake_sheet")


def draw_standing(shelf: Shelf) -> None:
    """One sentence on what the book holds now."""
    if shelf.state != "ready":
        frame.answer(
            "Nothing is in the book yet: 0 jobs.",
            "Hand in one folder's files at once, so that every row finds its job.",
        )
        return
    rejects = _open_rejects(shelf.build)
    if rejects is None:
        return
    held, faults = data.holdings(shelf.build), len(rejects)
    frame.answer(
        f"The book holds {wording.count(held.jobs, 'job')} and {wording.count(held.catches, 'weighing')}; "
        f"{wording.count(faults, 'fault')} still keep{'s' if faults == 1 else ''} rows out.",
        f"Visits {wording.window(held.first_visit, held.last_visit)}. Handing the same file in twice changes nothing.",
    )


def _open_rejects(build: str) -> pd.DataFrame | None:
    """The open rejects; None, and the reason on the page, where the received files cannot be read."""
    try:
        return data.open_rejects(build)
    except SludgebookError as problem:
        frame.instead(problem.sentence)
        return None


def draw_report(report: LoadReport, build: str) -> None:
    """What became of the files just handed in."""
    counts = pd.DataFrame(
        [
            {"File": each.file, "Table": each.table}
            | {words: getattr(each.counts, field) for field, words in COUNTS.items()}
            for each in report.files
        ],
        columns=["File", "Table", *COUNTS.values()],
    )
    rows, accepted = int(counts["Rows"].sum()), int(counts["Accepted"].sum())
    st.header("Just handed in", anchor=False)
    fresh = "" if report.is_new else " These files were in the book already, so nothing changed."
    st.markdown(
        f"**{accepted:,} of {wording.count(rows, 'row')} accepted, "
        f"{int(counts['Rejected'].sum()):,} rejected** in {report.seconds:.1f} s.{fresh}"
    )
    if st.session_state.get("intake_kept"):
        st.markdown("The book keeps these headings: the next file with them is read by itself.")
    frame.notes(report.findings)
    frame.table(counts, key="intake_counts", file_name="intake.csv", alt="What became of the rows, by file")
    rejects = pd.DataFrame(
        [
            {words: getattr(r, field) for field, words in REJECT_COLUMNS.items() if hasattr(r, field)}
            for r in report.rejects
        ]
    )
    draw_rejects(rejects, "intake_rejects", build, report.batch)


def draw_history(build: str) -> None:
    """Every batch so far, and every reject in the book."""
    st.header("Handed in so far", anchor=False)
    ledger = kept(("ledger", build), lambda: tallies.ledger_in_words(data.table(build, "ledger")))
    frame.table(ledger, key="intake_ledger", file_name="ledger.csv", alt="What became of the rows, by batch and file")
    rejects = _open_rejects(build)
    if rejects is not None:
        draw_rejects(rejects.rename(columns=REJECT_COLUMNS), "intake_all_rejects", build, None)


def draw_rejects(rejects: pd.DataFrame, key: str, build: str, batch: str | None) -> None:
    """The rejected rows with their reasons, and those of the book or of one batch to take away and mend."""
    st.header("Rows kept out, and why", anchor=False)
    if rejects.empty:
        st.markdown("None: every row was accepted, or was there already.")
        return
    st.markdown(
        f"{wording.count(len(rejects), 'fault')}. Correct the cells in your own file, or in the workbook below, where "
        "the bad cells are marked; hand it in again, and the new version of each row counts."
    )
    grounds = rejects.groupby(["File", "Table", "Column", "Reason"], dropna=False, as_index=False).size()
    if len(grounds) < len(rejects):
        grounds = grounds.rename(columns={"size": "Faults"}).sort_values("Faults", ascending=False)
        st.dataframe(
            grounds[["Faults", "Column", "Reason", "File", "Table"]],
            hide_index=True,
            key=f"{key}_grounds",
            alt="Faults by file and reason",
        )
    st.dataframe(rejects, hide_index=True, key=key, alt="Rejected rows with file, line, column, value and reason")
    with st.container(horizontal=True):
        _offer_workbook(key, build, batch)
        st.download_button(
            "Rejects as CSV",
            lambda: frame.csv_bytes(rejects),
            "rejects.csv",
            "text/csv",
            key=f"{key}_csv",
            on_click="ignore",
            icon=":material/download:",
        )


def _offer_workbook(key: str, build: str, batch: str | None) -> None:
    try:
        workbook = data.reject_workbook(build, batch)
    except SludgebookError as problem:
        frame.small(literal(problem.sentence))
        return
    if not workbook:
        frame.small("All of these rows were handed in again since.")
        return
    st.download_button(
        "Workbook to mend (XLSX)",
        workbook,
        "rejects.xlsx",
        XLSX,
        key=f"{key}_xlsx",
        on_click="ignore",
        icon=":material/download:",
    )


def draw_templates() -> None:
    """Empty files to fill in, with the allowed words as drop-down lists in the workbook."""
    st.header("Empty files to fill in", anchor=False)
    st.markdown("One row a job, emitter, weighing, reading or return visit. Empty means not known, never no or 0.")
    files = data.templates()
    book = next(name for name in files if name.endswith(".xlsx"))
    with st.container(horizontal=True):
        st.download_button(
            "Workbook with drop-down lists",
            files[book],
            book,
            XLSX,
            key="intake_template_xlsx",
            on_click="ignore",
            icon=":material/download:",
        )
        st.download_button(
            "CSV files, zipped",
            lambda: as_zip(files),
            "job_log_csv.zip",
            "application/zip",
            key="intake_template_csv",
            on_click="ignore",
            icon=":material/download:",
        )


def as_zip(files: dict[str, bytes]) -> bytes:
    """The CSV files among `files` as one archive."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            if name.endswith(".csv"):
                archive.writestr(name, content)
    return buffer.getvalue()
