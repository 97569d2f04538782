"""What the commands about the book itself do: rejects, history, verify."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.cli import printing as text
from dashboard.cli.open_book import book_at
from pipeline.contract.findings import BadInput

if TYPE_CHECKING:
    from pipeline.intake.history import RowVersion
    from pipeline.store.book import Book


def rejects(path: Path, as_json: bool | None, xlsx: Path | None, batch: str | None, *, every: bool) -> None:
    """List the open rejects, or every reject ever, after the files set aside whole; or write the open rows to a
    workbook for mending."""
    book = book_at(path)
    from dashboard.services.intake import check_batch, reject_faults

    if xlsx is not None:
        if every:
            raise BadInput("A workbook holds open rejects only; leave --all out.")
        check_batch(book, batch)
        _write_workbook(book, xlsx, batch, as_json)
        return
    text.rejected(reject_faults(book, batch, every=every), as_json)


def _write_workbook(book: Book, out: Path, batch: str | None, as_json: bool | None) -> None:
    from pipeline.intake.reject_workbook import write_reject_workbook

    rows = write_reject_workbook(book, out, batch)
    if text.wants_json(as_json):
        text.json_out({"out": str(out) if rows else None, "rows": rows})
    elif rows:
        text.say(f"Wrote {out}: {rows:,} rejected rows. Mend the marked cells and load it.")
    else:
        text.say("No row is rejected; nothing was written.")


def history(name: str, path: Path, as_json: bool | None) -> None:
    """Print each version of each row of one job."""
    book = book_at(path)
    from pipeline.intake.history import find_any_job
    from pipeline.intake.history import history as history_of

    versions = history_of(book, *find_any_job(book, name))
    if text.wants_json(as_json):
        text.json_out([_version_json(version) for version in versions])
        return
    headings = ["table", "key", "state", "received", "file", "line", "what changed or is wrong"]
    text.table(headings, [_version_cells(version) for version in versions])


def _version_json(version: RowVersion) -> dict[str, object]:
    facts = asdict(version)
    return {**facts, "received_at": version.received_at.isoformat(timespec="seconds")}


def _version_cells(version: RowVersion) -> list[str]:
    changes = [f"{c.column}: {_shown(c.before)} → {_shown(c.after)}" for c in version.changes]
    return [
        version.table,
        version.key,
        version.state,
        f"{version.received_at:%Y-%m-%d %H:%M}",
        version.file,
        str(version.line),
        "; ".join([*changes, *version.reasons]),
    ]


def _shown(value: object) -> str:
    return "empty" if value is None else str(value)


def verify(path: Path, as_json: bool | None) -> int:
    """Derive the book again and compare; the exit status: 1 when it is not clean."""
    book = book_at(path)
    from pipeline.verify.verify_book import verify as verify_book

    with text.progress("Verifying") as show:
        report = verify_book(book, show)
    if text.wants_json(as_json):
        text.json_out(report.as_json())
    else:
        for finding in (*report.findings, *report.notes):
            text.say(finding.in_full)
        verdict = "clean" if report.clean else "not clean"
        text.say(f"The book is {verdict}: {report.batches:,} batches derived again in {report.seconds:.1f} s.")
    return 0 if report.clean else 1
