"""Verify, what cannot be derived again: settings, the key of hidden ids, quotes, journals with their files, models.

Each loss is a finding with its own sentence; what was never said to be saved is a note.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from pipeline.checks.batch_sources import MAPPING_FILE
from pipeline.contract.findings import BookError, Finding, SludgebookError
from pipeline.contract.firm import Firm
from pipeline.mapping.mapping_file import read_mapping
from pipeline.quotes.kept_quotes import damaged_quotes, lost_quotes, torn_quotes
from pipeline.store.book import Book
from pipeline.store.journal import FOLDER, Journal, journals, lost_journals, read_journal_file, shown_name
from pipeline.verify.verify_files import sha256_of


def kept_findings(book: Book) -> list[Finding]:
    """What is lost or broken of all that a book keeps and cannot make again."""
    parts: tuple[Callable[[], Iterator[Finding]], ...] = (
        lambda: _settings(book),
        lambda: _key(book),
        lambda: _quotes(book),
        lambda: _journals(book),
    )
    found: list[Finding] = []
    for part in parts:
        try:
            found += part()
        except SludgebookError as error:
            found.append(Finding("unreadable", str(error)))
        except OSError as error:
            found.append(Finding("unreadable", f"{error.filename or book.path} cannot be read: {error.strerror}."))
    return found


def kept_notes(book: Book) -> list[Finding]:
    """What was begun and never said to be saved."""
    try:
        torn = [_no_whole_quote(name) for name in torn_quotes(book)]
        return torn + [note for path in journals(book) for note in _torn(path)]
    except SludgebookError:
        return []  # it is a finding already


def _settings(book: Book) -> Iterator[Finding]:
    if not book.firm_file.is_file() and book.has_checked():
        yield Finding(
            "settings_missing",
            f"The settings {book.firm_file} are missing, so that the rates of an invented firm count; restore the file "
            "from a backup.",
        )
    try:
        firm = book.firm()
    except SludgebookError as error:
        yield Finding("settings_unusable", str(error))
        firm = Firm()
    for key, name in (("mark_file", firm.mark_file), ("font_file", firm.font_file)):
        if name and not (book.path / name).is_file():
            sentence = f"{name}, which the setting `{key}` names, is not in the book's folder; put it there again."
            yield Finding("settings_file_missing", sentence, {"file": name})
    if (book.path / MAPPING_FILE).is_file():
        try:
            read_mapping(book.path / MAPPING_FILE)
        except SludgebookError as error:
            yield Finding("mapping_unusable", str(error))


def _key(book: Book) -> Iterator[Finding]:
    if book.has_checked() and (fault := book.id_key_fault()):
        yield Finding("id_key_lost", fault)


def _quotes(book: Book) -> Iterator[Finding]:
    for name in damaged_quotes(book):
        sentence = f"The kept quote {name} lacks something that was saved or cannot be read as a quote; "
        yield Finding("quote_damaged", f"{sentence}restore it from a backup.", {"file": name})
    for path in lost_quotes(book):
        sentence = f"The kept quote {path.name} is missing; restore it from a backup."
        yield Finding("quote_missing", sentence, {"file": path.name})


def _journals(book: Book) -> Iterator[Finding]:
    for path in lost_journals(book.path / FOLDER):
        sentence = f"The on-site journal of {shown_name(path)} is missing; restore it from a backup."
        yield Finding("journal_missing", sentence, {"journal": path.name})
    for path in journals(book):
        try:
            yield from _journal(path, read_journal_file(path))
        except BookError as error:
            yield Finding("unreadable", str(error), {"journal": path.name})


def _journal(path: Path, journal: Journal) -> Iterator[Finding]:
    if journal.is_cut:
        sentence = (
            f"The on-site journal of {shown_name(path)} lacks entries that were saved, or they were changed since; "
            "restore it from a backup."
        )
        yield Finding("journal_cut", sentence, {"journal": path.name})
    for entry in journal.entries:
        of = entry.values.get("of")
        if isinstance(of, dict) and isinstance(of.get("stored"), str) and isinstance(of.get("sha256"), str):
            yield from _attached(path.with_suffix(".files") / Path(of["stored"]).name, of)


def _attached(path: Path, of: dict[str, object]) -> Iterator[Finding]:
    """A file or photograph that an entry names: there, and as it was attached."""
    shown = of.get("name") or path.name
    if not path.is_file():
        what, code = "is missing", "attached_missing"
    elif sha256_of(path) != of["sha256"]:
        what, code = "was changed since it was attached", "attached_changed"
    else:
        return
    yield Finding(code, f"{shown}, attached on site, {what}; restore {path} from a backup.", {"file": str(path)})


def _no_whole_quote(name: str) -> Finding:
    sentence = f"{name} holds no whole quote: it was never said to be kept, or was cut since by something else."
    return Finding("quote_torn", sentence, {"file": name})


def _torn(path: Path) -> list[Finding]:
    journal = read_journal_file(path)
    end = "" if journal.is_cut else "; it was never said to be saved"
    return [
        Finding(
            "torn_entry",
            f"The on-site journal of {shown_name(path)} has a torn line {line.line}{end}.",
            {"journal": path.name, "line": line.line, "text": line.text},
        )
        for line in journal.torn
    ]
