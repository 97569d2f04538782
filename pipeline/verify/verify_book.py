"""Verify: everything a book holds, derived again from the received files and compared.

Received files against their hashes and sizes; each checked batch and the current build against the same
made again in a temporary folder; the ledger against the files and the tables; fitted models against
their manifests; settings, the key of hidden ids, journals, their files and kept quotes against what was said to be
saved. Nothing in the book is changed. What killed loads left behind is noted, not a fault:
the next load clears it.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.build import build_name, build_whole
from pipeline.checks.check_batch import check_as_empty
from pipeline.contract.findings import BookError, Finding, SludgebookError
from pipeline.intake.load import book_lock
from pipeline.intake.set_aside import build_keys, check_or_set_aside, is_settled, set_aside
from pipeline.store.book import ID_KEY, Book
from pipeline.store.build_faults import make_again
from pipeline.store.pruning import leftovers
from pipeline.store.received import Batch, batches
from pipeline.verify.verify_build import build_findings, count_findings
from pipeline.verify.verify_files import checked_findings, model_findings, receipt_findings, received_findings
from pipeline.verify.verify_kept import kept_findings, kept_notes

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True)
class VerifyReport:
    """What a verification found: `findings` are faults, `notes` are worth knowing and no fault."""

    clean: bool
    findings: tuple[Finding, ...]
    notes: tuple[Finding, ...]
    batches: int
    seconds: float

    def as_json(self) -> dict[str, object]:
        """The report as plain data."""
        return {
            "clean": self.clean,
            "findings": [finding.as_dict() for finding in self.findings],
            "notes": [note.as_dict() for note in self.notes],
            "batches": self.batches,
            "seconds": self.seconds,
        }


def verify(book: Book, progress: Progress | None = None) -> VerifyReport:
    """Derive the whole book again and compare; BookError when there is no book at all."""
    started = time.perf_counter()
    book.refuse_pool()
    if not book.exists():
        book.current()  # says what is missing
    findings: list[Finding] = []
    notes: list[Finding] = []
    everything: list[Batch] = []
    with in_peace(book), TemporaryDirectory(prefix="sludgebook-verify-") as folder:
        shadow = Book(Path(folder))
        try:
            everything = batches(book)
            _verify_all(book, shadow, everything, findings, notes, progress)
        except SludgebookError as error:
            findings.append(Finding("cannot_be_derived", str(error)))
        except OSError as error:
            sentence = f"{error.filename or book.path} cannot be read: {error.strerror or error}."
            findings.append(Finding("unreadable", sentence))
        findings += model_findings(book)
        told = {finding.sentence for finding in findings}
        kept = kept_findings(book)
        findings += [finding for finding in kept if finding.sentence not in told]
        notes += [*_leftover_notes(book), *kept_notes(book)]
    seconds = round(time.perf_counter() - started, 3)
    return VerifyReport(not findings, tuple(findings), tuple(notes), len(everything), seconds)


@contextmanager
def in_peace(book: Book) -> Iterator[None]:
    """Hold the book's lock, so that no load moves things; a book that may not be written needs none."""
    if not os.access(book.path, os.W_OK):
        yield
        return
    with book_lock(book):
        yield


def _verify_all(
    book: Book,
    shadow: Book,
    everything: list[Batch],
    findings: list[Finding],
    notes: list[Finding],
    progress: Progress | None,
) -> None:
    steps = len(everything) + 1
    shadow.create()
    findings += receipt_findings(everything)
    for name in (book.firm_file.name, ID_KEY):
        if (book.path / name).is_file() and (name != ID_KEY or not book.id_key_fault()):
            (shadow.path / name).write_bytes((book.path / name).read_bytes())
    for number, batch in enumerate(everything):
        if progress:
            progress(number, steps, batch.batch_id)
        damaged = received_findings(batch)
        findings += damaged
        if damaged:
            raise BookError("The batches after it and the build were not compared, for they rest on those files.")
        check_or_set_aside(shadow, batch)
        findings += _stood_aside(book, shadow, batch)
        if is_settled(book, batch):
            findings += checked_findings(book, shadow, batch)
            notes += [each.as_finding() for each in (set_aside(book, batch),) if each]
        else:
            notes.append(_not_checked(batch))
    if progress:
        progress(steps - 1, steps, "build")
    _verify_build(book, shadow, [batch.batch_id for batch in everything], findings, notes)


def _stood_aside(book: Book, shadow: Book, batch: Batch) -> list[Finding]:
    """A finding where a batch stands checked and cannot be any more, or stands set aside and need not; from there on
    the shadow has what the book has, so that the build is compared on the same rows."""
    stands, again = set_aside(book, batch), set_aside(shadow, batch)
    if not is_settled(book, batch) or (stands is None) == (again is None):
        return []
    if again is not None:
        raise BookError(f"Batch {batch.batch_id} stands checked, but cannot be checked any more: {again.reason}.")
    check_as_empty(shadow, batch, {})
    sentence = (
        f"Batch {batch.batch_id} is set aside, but its files can be checked; hand the same files in again, "
        "so that their rows count."
    )
    return [Finding("set_aside_in_vain", sentence, {"batch": batch.batch_id})]


def _not_checked(batch: Batch) -> Finding:
    sentence = f"Batch {batch.batch_id} is received but not checked by these rules yet; the next load checks it."
    return Finding("not_checked_yet", sentence, {"batch": batch.batch_id})


def _verify_build(
    book: Book, shadow: Book, batch_ids: list[str], findings: list[Finding], notes: list[Finding]
) -> None:
    """Compare the current build with one of the same batches, built whole from the files checked again."""
    current = _current(book, notes, has_batches=bool(batch_ids))
    if current is None:
        return
    firm = book.firm()
    keys = build_keys(book, batch_ids)
    counts = range(len(keys), 0, -1)
    known = next((n for n in counts if build_name(keys[:n], firm) == current.name), None)
    if known is None:
        sentence = f"The current build {current.name} was made by other rules or other settings; {make_again(current)}"
        findings.append(Finding("built_by_other_rules", sentence, {"build": current.name}))
        return
    if known < len(batch_ids):
        waiting = len(batch_ids) - known
        sentence = f"Received batches that are not built yet: {waiting}; the next load builds them."
        notes.append(Finding("not_built_yet", sentence, {"batches": waiting}))
    again = shadow.builds / current.name
    build_whole(shadow, batch_ids[:known], again)
    findings += build_findings(current, again)
    findings += count_findings(current, shadow, batch_ids[:known])


def _current(book: Book, notes: list[Finding], *, has_batches: bool) -> Path | None:
    """The build to compare; None where none was ever made. A lost pointer is noted: the build is found without it."""
    if book.named_build() is not None:
        return book.current()
    if any(book.builds.glob("[!.]*.duckdb")):
        current = book.current()
        sentence = (
            f"The file `current`, which names the build to read, is lost or spoilt; {current.name}, published last, is "
            "read in its place. The next load writes it anew."
        )
        notes.append(Finding("current_lost", sentence, {"build": current.name}))
        return current
    if has_batches:
        notes.append(Finding("not_built_yet", "No build is published yet; the next load builds and publishes one."))
    return None


def _leftover_notes(book: Book) -> list[Finding]:
    names = [str(path.relative_to(book.path)) for path in leftovers(book)]
    return [
        Finding("leftover", f"{name} was left by a load that was stopped; the next load clears it.", {"path": name})
        for name in names
    ]
