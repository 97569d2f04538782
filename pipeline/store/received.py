"""Files in: kept exactly as they came, in a folder named by their content, append-only.

Nothing is said to be received before it is written, synced and hashed. The same files handed in again
are the same batch, unless a later load has replaced rows of it: then they are a correction and are received
again, as a batch of their own, `<id>-2`, `<id>-3` and so on.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import uuid
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from pipeline.contract.findings import BadInput, BookError, Finding
from pipeline.contract.measured import MAX_MANIFEST_BYTES, read_measured
from pipeline.contract.whole_files import replace_file, sync_folder, write_whole
from pipeline.readers.csv_chunks import count_bytes
from pipeline.readers.files import OLD_WORKBOOK, OLD_WORKBOOKS, SUFFIXES, files_of, left_aside
from pipeline.readers.limits import check_file_size
from pipeline.store.book import Book

MANIFEST = "manifest.json"
MANIFEST_FORMAT = 1
"""Form of the manifests written here; a newer one is refused, an older one is read."""

AGAIN = "-"
"""Between the content and the count of receipts in the id of a batch received again."""

_INCOMING = ".incoming-"


@dataclass(frozen=True, slots=True)
class SourceFile:
    """A file to be handed in: where it is, and the name it is shown by."""

    path: Path
    name: str


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
    """One hand-over: id by content and receipt, its number in order of receipt, the moment, the files."""

    batch_id: str
    number: int
    received_at: datetime
    files: tuple[ReceivedFile, ...]
    folder: Path

    @property
    def content(self) -> str:
        """The part of the id that tells the content: the same for files that were received again."""
        return self.batch_id.partition(AGAIN)[0]


def find_sources(paths: Iterable[Path]) -> tuple[tuple[SourceFile, ...], tuple[Finding, ...]]:
    """The files among the paths that may hold tables; others in a folder are reported and left aside.

    BadInput in one sentence for a path that is not there, and for a file of another kind.
    """
    files: list[tuple[Path, str]] = []
    findings: list[Finding] = []
    for path in paths:
        try:
            if not path.exists():
                raise BadInput(f"{path} is not there; check the path.")
            files += _in_folder(path, findings) if path.is_dir() else [(_of_a_kind(path), path.name)]
        except OSError as error:
            raise BadInput(f"{path} cannot be read: {error.strerror or error}.") from error
    if not files:
        raise nothing_found(paths)
    for path, shown in files:
        check_file_size(path, shown)
    for name in (lambda p, shown: shown, lambda p, shown: f"{p.parent.name}/{p.name}", lambda p, shown: str(p)):
        uses = Counter(shown for _, shown in files)
        files = [(p, name(p, shown) if uses[shown] > 1 else shown) for p, shown in files]
    return tuple(SourceFile(p, shown) for p, shown in files), tuple(findings)


def nothing_found(paths: Iterable[Path]) -> BadInput:
    """What to say when there is no table of the job log among the paths."""
    given = list(paths)
    if not given:
        return BadInput("Name at least one folder or file of job logs.")
    old = [path for path in given if path.suffix.lower() in OLD_WORKBOOKS]
    if old:
        return BadInput(f"{old[0].name} {OLD_WORKBOOK}.")
    what = f"The folder {given[0]} holds no table" if given[0].is_dir() else f"{given[0].name} is no table"
    return BadInput(
        f"{what} of the job log: its files must be named after the tables, such as jobs.csv.",
        "`sludgebook format OUT` writes templates, `sludgebook map PATH` takes a firm's own headings.",
    )


def _in_folder(folder: Path, findings: list[Finding]) -> list[tuple[Path, str]]:
    found = []
    for path in files_of(folder):
        shown = path.relative_to(folder).as_posix()
        if path.suffix.lower() in SUFFIXES:
            found.append((path, shown))
        else:
            findings.append(left_aside(shown))
    return found


def _of_a_kind(path: Path) -> Path:
    if path.suffix.lower() in OLD_WORKBOOKS:
        raise nothing_found([path])
    if path.suffix.lower() not in SUFFIXES:
        raise BadInput(f"{path.name} is no table of the job log: {', '.join(SUFFIXES)} files are read.")
    return path


@dataclass(frozen=True, slots=True)
class StagedFile:
    """One copy: whence, where it stands, its hash, size and count of line ends."""

    source: SourceFile
    path: Path
    sha256: str
    size_bytes: int
    lines: int


@dataclass(frozen=True, slots=True)
class Staged:
    """Copies of the sources inside the book, hashed, not yet received."""

    folder: Path
    files: tuple[StagedFile, ...]


def stage(book: Book, sources: tuple[SourceFile, ...]) -> Staged:
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
    return Staged(folder, tuple(files))


def add_file(staged: Staged, name: str, data: bytes) -> Staged:
    """The staged copies and one more file, such as the mapping they are read by."""
    path = staged.folder / name
    write_whole(path, data)
    copy = StagedFile(SourceFile(path, name), path, hashlib.sha256(data).hexdigest(), len(data), data.count(b"\n"))
    return Staged(staged.folder, (*staged.files, copy))


def batch_id(staged: Staged, tables: dict[str, tuple[str, ...]]) -> str:
    """Id of the batch that the staged copies make; `tables` by stored name."""
    return content_id((f.path.suffix, tables[f.path.name], f.sha256) for f in staged.files)


def content_id(files: Iterable[tuple[str, tuple[str, ...], str]]) -> str:
    """Id of a batch from its content alone: ending, tables and SHA-256 of each file, in whatever order."""
    content = sorted(f"{suffix.lower()} {','.join(tables)} {sha256}" for suffix, tables, sha256 in files)
    return hashlib.sha256("\n".join(content).encode()).hexdigest()[:16]


def _alone(source: SourceFile, sources: tuple[SourceFile, ...]) -> bool:
    return sum(other.path.name.lower() == source.path.name.lower() for other in sources) == 1


def _copy(source: SourceFile, target: Path) -> tuple[str, int, int]:
    """Hash, size and line ends of the copy; BadInput when the file is written to while it is copied."""
    digest, size, lines = hashlib.sha256(), 0, 0
    with source.path.open("rb") as reading, target.open("xb") as writing:
        before = os.fstat(reading.fileno())
        with ThreadPoolExecutor(1) as writer:  # one block is written while the next is hashed
            written: Future[int] | None = None
            while block := reading.read(1 << 22):
                if written is not None:
                    written.result()
                written = writer.submit(writing.write, block)
                digest.update(block)
                size += len(block)
                lines += count_bytes(block, b"\n")
        if written is not None:
            written.result()
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

    `tables` gives for each stored name the tables of the job log that it holds. Content that is in the book
    already becomes a batch again, the newest: its rows count before those of all others.
    """
    files = tuple(
        ReceivedFile(f.source.name, f.path.name, f.sha256, f.size_bytes, f.lines, tables[f.path.name])
        for f in staged.files
    )
    everything = batches(book)
    content = batch_id(staged, tables)
    receipts = [batch for batch in everything if batch.content == content]
    name = f"{content}{AGAIN}{len(receipts) + 1}" if receipts else content
    number = 1 + max((batch.number for batch in everything), default=0)
    manifest = {
        "format": MANIFEST_FORMAT,
        "batch": name,
        "number": number,
        "received_at": at.isoformat(timespec="seconds"),
        "files": [asdict(file) for file in files],
    }
    write_whole(staged.folder / MANIFEST, json.dumps(manifest, indent=1).encode())
    folder = book.received / name
    replace_file(staged.folder, folder)
    sync_folder(book.received)
    return Batch(name, number, at, files, folder)


def batches(book: Book) -> list[Batch]:
    """All batches in the order received; BookError names a folder whose manifest cannot be read."""
    found = []
    for folder in book.received.iterdir() if book.received.is_dir() else ():
        if folder.name.startswith("."):
            continue
        try:
            facts = json.loads(_manifest_bytes(folder / MANIFEST))
            _check_format(folder, int(facts.get("format", 1)))
            files = tuple(ReceivedFile(**{**file, "tables": tuple(file["tables"])}) for file in facts["files"])
            at = datetime.fromisoformat(facts["received_at"])
            found.append(Batch(facts["batch"], int(facts["number"]), at, files, folder))
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
            raise BookError(
                f"The received batch {folder.name} has a damaged manifest; restore {folder} from a backup."
            ) from error
    return sorted(found, key=lambda batch: batch.number)


def _manifest_bytes(path: Path) -> bytes:
    try:
        if not path.is_file():
            raise ValueError("there is none")
        return read_measured(path, MAX_MANIFEST_BYTES)
    except BadInput as error:
        raise BookError(error.sentence) from error
    except OSError as error:
        raise BookError(f"{path} cannot be read: {error.strerror or error}.") from error


def _check_format(folder: Path, found: int) -> None:
    if found > MANIFEST_FORMAT:
        raise BookError(
            f"The received batch {folder.name} was written by a newer version of Sludgebook (manifest format {found}, "
            f"this one reads up to {MANIFEST_FORMAT}); update Sludgebook to use this book."
        )
