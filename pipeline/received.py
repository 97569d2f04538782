"""Files in: kept exactly as they came, in a folder named by their content, append-only.

Nothing is said to be received before it is written, synced and hashed. The same files handed in again
are the same batch.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import uuid
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from pipeline.book import Book, sync_folder, write_whole
from pipeline.findings import BadInput, BookError, Finding
from pipeline.reading_files import SUFFIXES, tables_in

MANIFEST = "manifest.json"
MANIFEST_FORMAT = 1
"""Form of the manifests written here; a newer one is refused, an older one is read."""

_INCOMING = ".incoming-"


@dataclass(frozen=True, slots=True)
class Source:
    """A file to be handed in: where it is, the name it is shown by, the tables it holds."""

    path: Path
    name: str
    tables: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReceivedFile:
    """A file of a batch: its name as it came, the name it is stored by, hash, size, line ends, its tables."""

    name: str
    stored: str
    sha256: str
    size_bytes: int
    lines: int
    tables: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Batch:
    """One hand-over: id by content, its number in order of receipt, the moment, the files."""

    batch_id: str
    number: int
    received_at: datetime
    files: tuple[ReceivedFile, ...]
    folder: Path


def find_sources(paths: Iterable[Path]) -> tuple[tuple[Source, ...], tuple[Finding, ...]]:
    """The tables among the paths; files of folders that are no table are reported and left aside.

    BadInput in one sentence for a path that is not there, a folder without a table, a file that is none.
    """
    found: list[tuple[Path, tuple[str, ...]]] = []
    findings: list[Finding] = []
    for path in paths:
        try:
            if not path.exists():
                raise BadInput(f"{path} is not there; check the path.")
            found += _in_folder(path, findings) if path.is_dir() else [(path, _in_file(path))]
        except OSError as error:
            raise BadInput(f"{path} cannot be read: {error.strerror or error}.") from error
    if not found:
        raise BadInput("Name at least one folder or file of job logs.")
    names = [path.name for path, _ in found]
    shown = [p.name if names.count(p.name) == 1 else f"{p.parent.name}/{p.name}" for p, _ in found]
    shown = [name if shown.count(name) == 1 else str(p) for name, (p, _) in zip(shown, found, strict=True)]
    sources = tuple(Source(p, name, tables) for name, (p, tables) in zip(shown, found, strict=True))
    return sources, tuple(findings)


def _in_folder(folder: Path, findings: list[Finding]) -> list[tuple[Path, tuple[str, ...]]]:
    found = []
    for path in sorted(p for p in folder.iterdir() if p.is_file() and not p.name.startswith((".", "~$"))):
        tables = tables_in(path) if path.suffix.lower() in SUFFIXES else ()
        if tables:
            found.append((path, tables))
        else:
            sentence = f"{path.name} is no table of the job log and was left aside."
            findings.append(Finding("file_left_aside", sentence, {"file": path.name}))
    if not found:
        raise BadInput(
            f"The folder {folder} holds no table of the job log (jobs.csv, emitters.csv, catches.csv …); "
            "`sludgebook format OUT` writes templates."
        )
    return found


def _in_file(path: Path) -> tuple[str, ...]:
    tables = tables_in(path)
    if not tables:
        raise BadInput(
            f"{path.name} is no table of the job log: it must be a CSV, Parquet or XLSX file "
            "named after its table, such as jobs.csv."
        )
    return tables


@dataclass(frozen=True, slots=True)
class StagedFile:
    """One copy: whence, where it stands, its hash, size and count of line ends."""

    source: Source
    path: Path
    sha256: str
    size_bytes: int
    lines: int


@dataclass(frozen=True, slots=True)
class Staged:
    """Copies of the sources inside the book, hashed, not yet received."""

    batch_id: str
    folder: Path
    files: tuple[StagedFile, ...]


def stage(book: Book, sources: tuple[Source, ...]) -> Staged:
    """Copy the sources into the book under a temporary name, synced and hashed."""
    folder = book.received / f"{_INCOMING}{uuid.uuid4().hex}"
    files = []
    try:
        folder.mkdir(parents=True)
        for index, source in enumerate(sources):
            target = folder / (source.path.name if _alone(source, sources) else f"{index + 1}-{source.path.name}")
            files.append(StagedFile(source, target, *_copy(source, target)))
    except OSError as error:
        discard(folder)
        which = f" ({Path(error.filename).name})" if error.filename else ""
        raise BookError(f"The files could not be copied into the book: {error.strerror or error}{which}.") from error
    except BadInput:
        discard(folder)
        raise
    batch_id = content_id((f.path.suffix, f.source.tables, f.sha256) for f in files)
    return Staged(batch_id, folder, tuple(files))


def content_id(files: Iterable[tuple[str, tuple[str, ...], str]]) -> str:
    """Id of a batch from its content alone: ending, tables and SHA-256 of each file, in whatever order."""
    content = sorted(f"{suffix.lower()} {','.join(tables)} {sha256}" for suffix, tables, sha256 in files)
    return hashlib.sha256("\n".join(content).encode()).hexdigest()[:16]


def _alone(source: Source, sources: tuple[Source, ...]) -> bool:
    return sum(other.path.name.lower() == source.path.name.lower() for other in sources) == 1


def _copy(source: Source, target: Path) -> tuple[str, int, int]:
    """Hash, size and line ends of the copy; BadInput when the file is written to while it is copied."""
    digest, size, lines = hashlib.sha256(), 0, 0
    with source.path.open("rb") as reading, target.open("xb") as writing:
        before = os.fstat(reading.fileno())
        while block := reading.read(1 << 20):
            digest.update(block)
            size += len(block)
            lines += block.count(b"\n")
            writing.write(block)
        after = os.fstat(reading.fileno())
        if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns) or size != after.st_size:
            raise BadInput(f"{source.name} changed while it was read; close the program that writes it and load again.")
        writing.flush()
        os.fsync(writing.fileno())
    return digest.hexdigest(), size, lines


def discard(folder: Path) -> None:
    """Remove what was staged but not received."""
    shutil.rmtree(folder, ignore_errors=True)


def receive(book: Book, staged: Staged, tables: dict[str, tuple[str, ...]], at: datetime) -> Batch:
    """Turn staged copies into a batch: manifest written, folder renamed. The caller holds the book's lock.

    `tables` gives for each stored name the tables of the job log that it holds.
    """
    files = tuple(
        ReceivedFile(f.source.name, f.path.name, f.sha256, f.size_bytes, f.lines, tables[f.path.name])
        for f in staged.files
    )
    number = 1 + max((batch.number for batch in batches(book)), default=0)
    manifest = {
        "format": MANIFEST_FORMAT,
        "batch": staged.batch_id,
        "number": number,
        "received_at": at.isoformat(timespec="seconds"),
        "files": [asdict(file) for file in files],
    }
    write_whole(staged.folder / MANIFEST, json.dumps(manifest, indent=1).encode())
    folder = book.received / staged.batch_id
    staged.folder.replace(folder)
    sync_folder(book.received)
    return Batch(staged.batch_id, number, at, files, folder)


def batches(book: Book) -> list[Batch]:
    """All batches in the order received; BookError names a folder whose manifest cannot be read."""
    found = []
    for folder in book.received.iterdir() if book.received.is_dir() else ():
        if folder.name.startswith("."):
            continue
        try:
            facts = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
            _check_format(folder, int(facts.get("format", 1)))
            files = tuple(ReceivedFile(**{**file, "tables": tuple(file["tables"])}) for file in facts["files"])
            at = datetime.fromisoformat(facts["received_at"])
            found.append(Batch(facts["batch"], int(facts["number"]), at, files, folder))
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
            raise BookError(
                f"The received batch {folder.name} has a damaged manifest; restore {folder} from a backup."
            ) from error
    return sorted(found, key=lambda batch: batch.number)


def _check_format(folder: Path, found: int) -> None:
    if found > MANIFEST_FORMAT:
        raise BookError(
            f"The received batch {folder.name} was written by a newer version of Sludgebook (manifest format {found}, "
            f"this one reads up to {MANIFEST_FORMAT}); update Sludgebook to use this book."
        )
