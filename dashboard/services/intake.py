"""Files handed in to the book, what their headings mean, and what was not accepted of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.intake.load_report import LoadReport
    from pipeline.mapping.confirmed_mapping import Mapping
    from pipeline.mapping.mapping_editor import MappingSheet
    from pipeline.store.book import Book

Uploads = Sequence[tuple[str, bytes]]
"""Files as (name, content)."""


def load_uploads(book: Book, files: Uploads, mapping: Mapping | None = None) -> LoadReport:
    """Hand uploaded files in to the book. SludgebookError says why nothing was received.

    A mapping says what the firm's own headings mean; the book keeps it.
    """
    from pipeline.intake.load import load
    from pipeline.intake.uploads import beside_kept, laid_out

    with TemporaryDirectory() as folder:
        mapping_file = beside_kept(mapping, book, Path(folder)) if mapping is not None else None
        return load(laid_out(files, Path(folder)), book, mapping_file=mapping_file)


def mapping_sheet(files: Uploads, heading_line: int = 0) -> MappingSheet | None:
    """What the firm's own headings in uploaded files may mean, to confirm; None where there is nothing to propose.

    `heading_line` is the line that the headings stand on, 0 to find it.
    """
    from pipeline.intake.uploads import sheet_for

    with TemporaryDirectory() as folder:
        return sheet_for(files, Path(folder), heading_line)


def check_batch(book: Book, batch: str | None) -> None:
    """BadInput for a batch that the book never received, so that nobody takes its silence for a clean hand-over."""
    from pipeline.contract.findings import BadInput
    from pipeline.store.received import batches

    received = [each.batch_id for each in batches(book)] if batch is not None else []
    if batch is not None and batch not in received:
        last = f"The newest is {received[-1]}." if received else "It has received none."
        raise BadInput(f"The book has received no batch {batch}. {last}")


def reject_faults(book: Book, batch: str | None = None, *, every: bool = False) -> list[dict[str, object]]:
    """A dict a fault of the rejected rows: file, table, line, column, value, reason.

    Of rows that were not handed in again since (`every`: of all ever), of one batch where it is named. Files set aside
    whole come first, without a line. BadInput for a batch that was never received.
    """
    check_batch(book, batch)
    from pipeline.intake.open_rejects import faults_of, open_rejects, rejected_rows
    from pipeline.intake.set_aside import rejects_of_set_aside

    rows = rejected_rows(book) if every else open_rejects(book)
    return rejects_of_set_aside(book, batch) + faults_of(row for row in rows if batch is None or row.batch == batch)


def empty_files() -> dict[str, bytes]:
    """Empty files to fill in, by file name: one CSV a table and one workbook."""
    from pipeline.contract.templates import write_templates

    with TemporaryDirectory() as folder:
        return {path.name: path.read_bytes() for path in write_templates(Path(folder))}
