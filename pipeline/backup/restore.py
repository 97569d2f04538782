"""A book back from its backup: into a new folder only, each file compared before the folder gets its name."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import stat
import time
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from pipeline.backup.back_up import BACKUP_FORMAT, BLOCK, CONTENTS, Member
from pipeline.contract.findings import BadInput, BookError
from pipeline.contract.whole_files import replace_file, sync_folder

MAX_CONTENTS_BYTES = 500_000_000
"""The list of a backup: some two million files."""
_NO_NAME = "\\:\0" if os.name == "nt" else "\0"
_HASH = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Restored:
    """What was brought back: the book's folder, how many files and bytes."""

    book: Path
    files: int
    size_bytes: int

    def as_json(self) -> dict[str, object]:
        """The report as plain data."""
        return {"book": str(self.book), "files": self.files, "size_bytes": self.size_bytes}


def restore(backup: Path, folder: Path) -> Restored:
    """Unpack a backup as the new book `folder`; nothing stays of what fails, and nothing that is there is overwritten.

    BadInput where `backup` is no whole backup, BookError where the folder is taken or cannot be written.
    """
    _check_places(backup, folder)
    part = folder.absolute().with_name(f".{folder.name}.{os.getpid()}.part")
    try:
        with zipfile.ZipFile(backup) as archive:
            members = _members(archive, backup)
            _check_room(folder, members, backup)
            part.mkdir()
            for member in members:
                _unpack(archive, member, part, backup)
        if folder.is_dir():
            folder.rmdir()  # it is empty, or this fails
        replace_file(part, folder)
        sync_folder(folder.absolute().parent)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise BadInput(f"{backup} is no whole backup ({error}); use another one.") from error
    except OSError as error:
        raise BookError(f"The book {folder} could not be written: {error.strerror or error}.") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return Restored(folder, len(members), sum(member.size_bytes for member in members))


def _check_places(backup: Path, folder: Path) -> None:
    try:
        if not backup.exists():
            raise BadInput(f"{backup} is not there; check the path.")
        if not stat.S_ISREG(backup.stat().st_mode):
            raise BadInput(f"{backup} is no file; name the backup that `sludgebook backup` wrote.")
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BookError(f"{folder} is there already; a backup is restored into a new folder only. Name another.")
        if not folder.absolute().parent.is_dir():
            raise BookError(f"The folder {folder.absolute().parent} is not there; make it first.")
        with backup.open("rb") as file:
            file.read(1)
    except OSError as error:
        raise BadInput(f"{error.filename or backup} cannot be used: {error.strerror or error}.") from error


def _members(archive: zipfile.ZipFile, backup: Path) -> list[Member]:
    """What the backup says it holds; BadInput where that is not what it holds, or no list at all."""
    names = archive.namelist()
    if CONTENTS not in names:
        raise BadInput(f"{backup} is no backup of a book; name the file that `sludgebook backup` wrote.")
    if archive.getinfo(CONTENTS).file_size > MAX_CONTENTS_BYTES:
        raise BadInput(f"The list in {backup} has more than {MAX_CONTENTS_BYTES:,} bytes, the most it may have.")
    try:
        facts = json.loads(archive.read(CONTENTS))
        number = int(facts["format"])
        members = [Member(str(f["name"]), int(f["size_bytes"]), str(f["sha256"])) for f in facts["files"]]
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise BadInput(f"The list in the backup {backup} is damaged; use another one.") from error
    if number > BACKUP_FORMAT:
        raise BadInput(f"{backup} was written by a newer version of Sludgebook; update Sludgebook to restore it.")
    listed = [member.name for member in members]
    if sorted([*listed, CONTENTS]) != sorted(names) or len({name.casefold() for name in listed}) < len(listed):
        raise BadInput(f"{backup} does not hold the files that its list names; use another one.")
    strange = [member.name for member in members if not _is_plain(member)]
    if strange:
        raise BadInput(f"{backup} names a file outside the book ({strange[0][:80]!r}); it was not unpacked.")
    return members


def _is_plain(member: Member) -> bool:
    path = PurePosixPath(member.name)
    is_inside = bool(path.parts) and not path.is_absolute() and ".." not in path.parts
    is_name = not any(sign in member.name for sign in _NO_NAME) and path.as_posix() == member.name
    return is_inside and is_name and member.size_bytes >= 0 and bool(_HASH.fullmatch(member.sha256))


def _check_room(folder: Path, members: list[Member], backup: Path) -> None:
    wanted, free = sum(member.size_bytes for member in members), shutil.disk_usage(folder.absolute().parent).free
    if wanted > free:
        raise BookError(
            f"{backup} unpacks to {wanted:,} bytes and the disk has {free:,} left; make room or name another disk."
        )


def _unpack(archive: zipfile.ZipFile, member: Member, part: Path, backup: Path) -> None:
    """One file, no longer than its list says, with the time it had: what is newest is told by that."""
    target, digest, size = part / member.name, hashlib.sha256(), 0
    target.parent.mkdir(parents=True, exist_ok=True)
    with archive.open(member.name) as reading, target.open("xb") as writing:
        while block := reading.read(BLOCK):
            size += len(block)
            if size > member.size_bytes:
                break
            digest.update(block)
            writing.write(block)
        writing.flush()
        os.fsync(writing.fileno())
    if size != member.size_bytes or digest.hexdigest() != member.sha256:
        raise BadInput(f"{member.name} in the backup {backup} is not as it was backed up; use another backup.")
    moment = time.mktime((*archive.getinfo(member.name).date_time, 0, 0, -1))
    os.utime(target, (moment, moment))
    if target.name == "id.key":
        target.chmod(0o600)
