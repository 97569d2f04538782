"""Verify, the files: received files and models against their hashes, checked batches against their like."""

from __future__ import annotations

import filecmp
import hashlib
import json
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import polars as pl

from pipeline.contract.findings import Finding
from pipeline.contract.plain_names import as_typed
from pipeline.store.book import Book
from pipeline.store.checked_files import read_checked
from pipeline.store.received import AGAIN, MANIFEST, Batch, content_id

_BLOCK = 1 << 20


def received_findings(batch: Batch) -> list[Finding]:
    """Files of a batch that are missing, changed or too many, and an id that is not that of its content."""
    found = []
    for file in batch.files:
        path = batch.folder / file.stored
        if not path.is_file():
            found.append(_received(batch, "received_missing", f"{file.name} is missing"))
        elif path.stat().st_size != file.size_bytes:
            found.append(_received(batch, "received_changed", f"{file.name} does not have the size it came with"))
        elif sha256_of(path) != file.sha256:
            found.append(_received(batch, "received_changed", f"{file.name} does not have the content it came with"))
    known = {file.stored for file in batch.files} | {MANIFEST}
    strange = sorted(path.name for path in batch.folder.iterdir() if path.name not in known)
    found += [_received(batch, "received_strange", f"{name} was not received with it") for name in strange]
    expected = content_id((Path(file.stored).suffix, file.tables, file.sha256) for file in batch.files)
    if not (batch.batch_id == batch.folder.name and batch.content == expected):
        found.append(_received(batch, "received_changed", "its manifest is not the one it was received with"))
    return found


def receipt_findings(everything: list[Batch]) -> list[Finding]:
    """Batches received again of which an earlier receipt is gone: then it is not known what they corrected."""
    found, receipts = [], Counter[str]()
    for batch in everything:
        receipts[batch.content] += 1
        nth = receipts[batch.content]
        if batch.batch_id != (f"{batch.content}{AGAIN}{nth}" if nth > 1 else batch.content):
            found.append(_received(batch, "received_missing", "an earlier receipt of the same files is missing"))
    return found


def _received(batch: Batch, code: str, what: str) -> Finding:
    sentence = f"Received batch {batch.folder.name}: {what}; restore {batch.folder} from a backup."
    return Finding(code, sentence, {"batch": batch.folder.name})


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, read block by block."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def checked_findings(book: Book, shadow: Book, batch: Batch) -> list[Finding]:
    """Parquet files of a checked batch that are not what its received files give."""
    stands, again = book.checked / batch.batch_id, shadow.checked / batch.batch_id
    names = {path.relative_to(root).as_posix() for root in (stands, again) for path in root.rglob("*.parquet")}
    _look_into(path for path in (stands / name for name in names) if path.is_file())
    wrong = sorted(name for name in names if not _same_rows(stands / name, again / name))
    if not wrong:
        return []
    sentence = (
        f"The checked form of batch {batch.batch_id} is not what its received files give ({', '.join(wrong[:5])}); "
        f"`sludgebook rebuild --book {as_typed(book.path)}` makes it and the build again."
    )
    return [Finding("checked_differs", sentence, {"batch": batch.batch_id, "files": wrong})]


def _look_into(paths: Iterable[Path]) -> None:
    """OSError for a file that may not be read: that is no sign of other content."""
    for path in paths:
        with path.open("rb") as file:
            file.read(1)


def _same_rows(stands: Path, again: Path) -> bool:
    if not stands.is_file() or not again.is_file():
        return False
    if filecmp.cmp(stands, again, shallow=False):
        return True
    try:
        frames = [read_checked(path) for path in (stands, again)]
    except (OSError, pl.exceptions.PolarsError):
        return False
    return frames[0].schema == frames[1].schema and frames[0].equals(frames[1])


def model_findings(book: Book) -> list[Finding]:
    """Files of fitted models that are not those their manifest names."""
    found = []
    for folder in sorted(path for path in (book.path / "models").glob("[!.]*/[!.]*") if path.is_dir()):
        manifest = folder / "manifest.json"
        try:
            bad = _bad_model_files(manifest)
        except OSError as error:
            sentence = f"The model file {error.filename} cannot be read: {error.strerror}; see to the rights."
            found.append(Finding("model_unreadable", sentence, {"folder": str(folder)}))
            continue
        if bad:
            sentence = f"The model in {folder} is damaged ({', '.join(bad)}); run `sludgebook train` again."
            found.append(Finding("model_damaged", sentence, {"folder": str(folder)}))
    return found


def _bad_model_files(manifest: Path) -> list[str]:
    try:
        files = json.loads(manifest.read_text(encoding="utf-8"))["files"]
        return [
            name
            for name, sha256 in files.items()
            if not (manifest.parent / name).is_file() or sha256_of(manifest.parent / name) != sha256
        ]
    except FileNotFoundError:
        return [manifest.name]
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return [manifest.name]
