"""Back a book up: everything in it that counts as one ZIP file, read again and compared before it gets its name.

Older builds, locks and what stopped loads left are not taken along. Entries may be made meanwhile: a journal goes in
as it stood at one moment.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
import zlib
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from pipeline.contract.findings import BadInput, BookError, Finding
from pipeline.contract.whole_files import replace_file, sync_folder
from pipeline.store.book import Book
from pipeline.store.received import batches
from pipeline.store.tally import ENDING
from pipeline.verify.verify_book import in_peace
from pipeline.verify.verify_files import received_findings
from pipeline.verify.verify_kept import kept_findings

CONTENTS = "sludgebook-backup.json"
"""The list of what a backup holds: the last member of the archive."""
BACKUP_FORMAT = 1
BLOCK = 1 << 20
_LEFT_OUT = (".lock", ".part", ".wal", ".log", ".old")


@dataclass(frozen=True, slots=True)
class Member:
    """A file of a backup: its path within the book, size, SHA-256."""

    name: str
    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class BackupReport:
    """What was written: the file, how many files of the book and how many bytes are in it, and what is wrong with the
    book that it is a backup of."""

    out: Path
    files: int
    size_bytes: int
    findings: tuple[Finding, ...]

    def as_json(self) -> dict[str, object]:
        """The report as plain data."""
        findings = [finding.as_dict() for finding in self.findings]
        return {"out": str(self.out), "files": self.files, "size_bytes": self.size_bytes, "findings": findings}


def back_up(book: Book, out: Path) -> BackupReport:
    """Write a backup to the new file `out`, verified as it is written; nothing stays of one that fails.

    BadInput for a name that cannot be taken; BookError where there is no book, or it or the disk fails. What is lost in
    the book already is told in the findings: a backup of it cannot bring it back.
    """
    _check_name(book, out)
    book.refuse_pool()
    if not book.exists():
        book.current()  # says what is missing
    part = out.with_name(f".{out.name}.{os.getpid()}.part")
    try:
        with in_peace(book):
            everything = batches(book)
            findings = [finding for batch in everything for finding in received_findings(batch)]
            findings += kept_findings(book)
            members = _written(book, part)
        _read_back(part, members)
        if out.exists():
            raise BadInput(f"{out} is there already and is not overwritten; name another file.")
        replace_file(part, out)
        sync_folder(out.absolute().parent)
    except OSError as error:
        raise BookError(
            f"The backup {out} could not be written: {error.strerror or error}"
            f"{f' ({error.filename})' if error.filename else ''}. Nothing was left behind."
        ) from error
    finally:
        _remove(part)
    return BackupReport(out, len(members), sum(member.size_bytes for member in members), tuple(findings))


def _check_name(book: Book, out: Path) -> None:
    try:
        if out.suffix.lower() != ".zip":
            raise BadInput(f"{out.name} must end in .zip.")
        if out.exists():
            raise BadInput(f"{out} is there already and is not overwritten; name another file.")
        if out.resolve().is_relative_to(book.path.resolve()):
            raise BadInput("A backup inside the book would be lost with it; name a place outside, best another disk.")
        if not out.absolute().parent.is_dir():
            raise BadInput(f"The folder {out.absolute().parent} is not there; make it first.")
    except OSError as error:
        raise BadInput(f"{out} cannot be written: {error.strerror or error}.") from error


def _remove(part: Path) -> None:
    try:
        part.unlink(missing_ok=True)
    except OSError:
        return  # a name that the disk does not take was never written


def files_to_keep(book: Book) -> list[Path]:
    """The files of a book that a backup holds; a tally before its journal, so that it never claims more."""
    current = book.named_build() or (book.current().name if any(book.builds.glob("[!.]*.duckdb")) else "")
    found = [
        path
        for path in sorted(book.path.rglob("*"))
        if path.is_file()
        and not path.is_symlink()
        and not any(_is_left_out(part) for part in path.relative_to(book.path).parts)
        and (path.parent != book.builds or path.name == current)
    ]
    return sorted(found, key=lambda path: (path.suffix != ENDING, path))


def _is_left_out(name: str) -> bool:
    return name.startswith(".incoming-") or name.endswith(_LEFT_OUT) or name == CONTENTS


def _written(book: Book, part: Path) -> list[Member]:
    members = []
    with part.open("xb") as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=3, strict_timestamps=False) as archive:
            for path in files_to_keep(book):
                members.append(_add(archive, path, path.relative_to(book.path).as_posix()))
            contents = {
                "format": BACKUP_FORMAT,
                "written_at": datetime.now().isoformat(timespec="seconds"),
                "files": [asdict(member) for member in members],
            }
            archive.writestr(CONTENTS, json.dumps(contents, indent=1))
        file.flush()
        os.fsync(file.fileno())
    return members


def _add(archive: zipfile.ZipFile, path: Path, name: str) -> Member:
    digest, size = hashlib.sha256(), 0
    info = zipfile.ZipInfo.from_file(path, name, strict_timestamps=False)
    info.compress_type = zipfile.ZIP_DEFLATED
    with path.open("rb") as reading, archive.open(info, "w", force_zip64=True) as writing:
        while block := reading.read(BLOCK):
            digest.update(block)
            size += len(block)
            writing.write(block)
    return Member(name, size, digest.hexdigest())


def _read_back(part: Path, members: list[Member]) -> None:
    """Read what stands on the disk and compare it with what was read from the book."""
    try:
        with zipfile.ZipFile(part) as archive:
            for member in members:
                if sha256_in(archive, member.name) != member.sha256:
                    raise BookError(f"The disk changed {member.name} while the backup was written; use another disk.")
    except (zipfile.BadZipFile, zlib.error) as error:
        raise BookError(f"The disk did not keep the backup as it was written ({error}); use another disk.") from error


def sha256_in(archive: zipfile.ZipFile, name: str) -> str:
    """SHA-256 of a member of an archive, read block by block."""
    digest = hashlib.sha256()
    with archive.open(name) as file:
        while block := file.read(BLOCK):
            digest.update(block)
    return digest.hexdigest()
