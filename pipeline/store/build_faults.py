"""Why a build could not be read: each cause has its own sentence, told by the file itself before any words.

Only what a reader has shown to be broken is called damaged, and nothing is ever to be removed for it: a build is made
again from the received files, and takes the place of the broken one when it is whole.
"""

from __future__ import annotations

import errno
import os
import re
from pathlib import Path

from pipeline.contract.findings import BookError
from pipeline.contract.plain_names import as_typed

_IN_USE = re.compile(r"Could not set lock|Conflicting lock|being used by another process", re.IGNORECASE)
_NEWER = re.compile(r"version number|newer version of DuckDB|storage version", re.IGNORECASE)
_BROKEN = re.compile(
    r"not a valid DuckDB|Could not read enough bytes|Corrupt|checksum|[Ss]erializ|INTERNAL|been invalidated"
)
_SHARING = (32, 33)  # the numbers by which Windows says that another program has the file


class DamagedBuild(BookError):
    """The content of a build is broken, not its place or its rights: making it again mends it."""


def make_again(build: Path) -> str:
    """What to type so that a build is made again."""
    return f"`sludgebook rebuild --book {as_typed(build.parents[1])}` makes it again from the files received."


def unreadable(build: Path, error: Exception) -> BookError:
    """The error to raise for what the database said of a build, or the system of its file."""
    return _by_its_file(build) or _by_the_words(build, error)


def _by_its_file(build: Path) -> BookError | None:
    """What the system says when the file is opened plainly; None where it can be read."""
    try:
        with build.open("rb") as file:
            file.read(1)
    except FileNotFoundError:
        return BookError(f"{build} is not there any more; a newer build may have taken its place: try again.")
    except OSError as error:
        if getattr(error, "winerror", None) in _SHARING:
            return _in_use(build)
        if error.errno in (errno.EACCES, errno.EPERM):
            return BookError(
                f"{build} may not be read by this user ({error.strerror}); ask whoever looks after this computer for "
                "the right to read it. Nothing is known to be wrong with it."
            )
        return BookError(f"{build} cannot be read: {error.strerror or error}. Look to the disk, and try again.")
    return None


def _by_the_words(build: Path, error: Exception) -> BookError:
    import duckdb

    first = str(error).strip().splitlines()[0]
    said = first.replace(str(build), "")  # a folder may be called anything
    if _IN_USE.search(said):
        return _in_use(build)
    if isinstance(error, duckdb.OutOfMemoryException):
        return BookError(f"There is not enough memory to read {build}; close other programs and try again.")
    if any(os.strerror(number) in said for number in (errno.ENOSPC, errno.EDQUOT)):
        return BookError(f"The disk is full, so {build} could not be worked on; make room and try again.")
    if isinstance(error, duckdb.BinderException | duckdb.CatalogException) or _NEWER.search(said):
        return BookError(f"{build} was made by another version of Sludgebook; {make_again(build)}")
    if _BROKEN.search(said):
        return DamagedBuild(f"{build} is damaged ({_plain(said)}); {make_again(build)}")
    return BookError(f"{build} could not be read ({_plain(said)}); `sludgebook verify` tells what is damaged.")


def _in_use(build: Path) -> BookError:
    return BookError(f"{build} is locked by another program; close that program and try again.")


def _plain(said: str) -> str:
    """What the database said, without its own name for the kind of error."""
    words = re.sub(r"^[\w ]*Error:\s*", "", said).replace('""', "it").rstrip(".!")
    return " ".join(words.split())[:200]
