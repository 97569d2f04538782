"""The tally of a journal: how much of it was said to be saved, so that a later cut or change shows.

It stands beside the journal (`on_site/J1.jsonl` has `on_site/J1.saved`) and is written after the entry is on disk and
before anyone is told so. A journal of an earlier version has none until its next entry, and is read as before.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from pipeline.contract.findings import BookError
from pipeline.contract.whole_files import replace_file

ENDING = ".saved"
LONGEST_BYTES = 4_000


@dataclass(frozen=True, slots=True)
class Tally:
    """The first `size_bytes` of a journal as they were saved, `lines` of them, and their SHA-256.

    `was_lost` says that something saved before was missing when this was written.
    """

    lines: int
    size_bytes: int
    sha256: str
    was_lost: bool = False

    def holds(self, data: bytes) -> bool:
        """Whether the journal's bytes still begin with all that was saved, unchanged."""
        return len(data) >= self.size_bytes and hashlib.sha256(data[: self.size_bytes]).hexdigest() == self.sha256


def tally_path(journal: Path) -> Path:
    """Where the tally of a journal stands."""
    return journal.with_suffix(ENDING)


def read_tally(journal: Path) -> Tally | None:
    """The tally of a journal; None where there is none, or none that can be understood. BookError: it is unreadable."""
    try:
        with tally_path(journal).open("rb") as file:
            facts = json.loads(file.read(LONGEST_BYTES))
        return Tally(int(facts["lines"]), int(facts["size_bytes"]), str(facts["sha256"]), bool(facts["was_lost"]))
    except FileNotFoundError:
        return None
    except OSError as error:
        raise BookError(f"{tally_path(journal)} cannot be read: {error.strerror or error}.") from error
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def is_cut(data: bytes, tally: Tally | None) -> bool:
    """Whether the journal's bytes lack something that was saved; a tally that cannot be understood tells nothing."""
    return tally is not None and (tally.was_lost or not tally.holds(data))


def write_tally(journal: Path, data: bytes, *, was_lost: bool = False) -> None:
    """Say that all these bytes of the journal are saved. OSError when the disk does not take it.

    The folder is not synced: after a power cut an older tally claims less, never more.
    """
    facts = {
        "lines": data.count(b"\n"),
        "size_bytes": len(data),
        "sha256": hashlib.sha256(data).hexdigest(),
        "was_lost": was_lost,
    }
    path = tally_path(journal)
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("wb") as file:
            file.write(json.dumps(facts).encode())
            file.flush()
            os.fsync(file.fileno())
        replace_file(part, path)
    except OSError:
        part.unlink(missing_ok=True)
        raise
