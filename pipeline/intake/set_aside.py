"""Batches whose checking failed: set aside with a sentence, so that one batch never stops the others.

The mark stands in the stamp of a checked form without rows, put in place by the same rename as any other: a
computer that stops finds the batch either set aside or not looked at yet. It is tried again when the rules or the
program change, when the same files are handed in again, and at each load where it was the disk that failed.
"""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from pipeline.checks.check_batch import check_as_empty, check_batch, found_stamp, is_checked, stamp
from pipeline.contract.findings import Finding, SludgebookError
from pipeline.contract.whole_files import sync_folder
from pipeline.intake.write_faults import is_of_the_disk
from pipeline.store.book import Book
from pipeline.store.received import Batch, batches

MARK = "set_aside"
_PANIC = ("pyo3_runtime", "PanicException")


@dataclass(frozen=True, slots=True)
class SetAside:
    """One batch that could not be checked, and why."""

    batch: Batch
    reason: str

    @property
    def sentence(self) -> str:
        """What happened, what it means, and when it is tried again."""
        names = ", ".join(file.name for file in self.batch.files if file.tables)
        return (
            f"{names} (batch {self.batch.batch_id}, received {self.batch.received_at:%Y-%m-%d}) could not be checked "
            f"and is set aside: {self.reason.rstrip('.')}. None of its rows count; all other batches do. It is tried "
            "again when Sludgebook is updated, or when the same files are handed in again."
        )

    def as_finding(self) -> Finding:
        """The sentence with the batch and the reason as data."""
        facts = {"batch": self.batch.batch_id, "files": [f.name for f in self.batch.files], "reason": self.reason}
        return Finding("batch_set_aside", self.sentence, facts)


def check_or_set_aside(book: Book, batch: Batch) -> None:
    """Check a batch, or set it aside where that fails for a reason of its own.

    A full disk is no fault of the batch and is raised; so is whatever stops the program itself.
    """
    try:
        check_batch(book, batch)
    except BaseException as error:
        if not is_failure(error) or (is_of_the_disk(error) and not _in_folder(error, batch.folder)):
            raise
        program = "" if isinstance(error, OSError) or not _is_whole(batch) else program_digest()
        check_as_empty(book, batch, {MARK: {"reason": _reason(error), "program": program}})


def is_failure(error: BaseException) -> bool:
    """Whether an error is one of the work at hand. A panic of a compiled library is, though it derives from
    BaseException; an interrupt and an exit are not."""
    return isinstance(error, Exception) or (type(error).__module__, type(error).__name__) == _PANIC


def _in_folder(error: BaseException, folder: Path) -> bool:
    """Whether the system refused a file of the batch itself, rather than a place to write to."""
    name = error.filename if isinstance(error, OSError) else None
    return isinstance(name, str) and Path(name).parent == folder


def _is_whole(batch: Batch) -> bool:
    """Whether the files of the batch are there in the size they came with: what is restored is tried again."""
    paths = ((batch.folder / file.stored, file.size_bytes) for file in batch.files)
    return all(path.is_file() and path.stat().st_size == size for path, size in paths)


def _reason(error: BaseException) -> str:
    if isinstance(error, SludgebookError):
        return error.sentence
    if isinstance(error, OSError):
        return f"{Path(str(error.filename or 'a file')).name} cannot be read ({error.strerror or error})"
    first = (str(error).strip().splitlines() or [""])[0][:200]
    return f"the program failed on it ({type(error).__name__}: {first})"


@lru_cache(maxsize=1)
def program_digest() -> str:
    """Digest of what checks: the text of the pipeline, so that any change of it tries again."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parents[1].rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _mark(book: Book, batch_id: str) -> dict[str, object]:
    mark = found_stamp(book, batch_id).get(MARK)
    return mark if isinstance(mark, dict) else {}


def set_aside(book: Book, batch: Batch) -> SetAside | None:
    """The batch as one set aside, by whichever rules; None where it is not."""
    mark = _mark(book, batch.batch_id)
    return SetAside(batch, str(mark.get("reason", ""))) if mark else None


def every_set_aside(book: Book) -> tuple[SetAside, ...]:
    """The batches that are set aside, in the order received."""
    found = (set_aside(book, batch) for batch in batches(book))
    return tuple(each for each in found if each is not None)


def is_settled(book: Book, batch: Batch) -> bool:
    """Whether there is nothing to do for the batch: checked by these rules, or set aside by them and this program."""
    if is_checked(book, batch):
        return True
    mark = _mark(book, batch.batch_id)
    rules = {name: value for name, value in found_stamp(book, batch.batch_id).items() if name != MARK}
    return bool(mark) and rules == stamp() and mark.get("program") == program_digest()


def try_again(book: Book, batch: Batch) -> None:
    """Forget that the batch was set aside: whoever checks next tries again."""
    shutil.rmtree(book.checked / batch.batch_id, ignore_errors=True)
    sync_folder(book.checked)


def build_keys(book: Book, batch_ids: list[str]) -> list[str]:
    """What stands for each batch in the name of a build: a build without a batch's rows is not the one with them."""
    return [f"{batch_id} {MARK}" if _mark(book, batch_id) else batch_id for batch_id in batch_ids]


def rejects_of_set_aside(book: Book, batch: str | None = None) -> list[dict[str, object]]:
    """One entry a file set aside, shaped as an entry of the rejects: no line, no column, the sentence as reason."""
    return [
        {
            "file": file.name,
            "table": ", ".join(file.tables),
            "line": None,
            "column": "",
            "value": None,
            "reason": each.sentence,
        }
        for each in every_set_aside(book)
        if batch is None or each.batch.batch_id == batch
        for file in each.batch.files
        if file.tables
    ]
