"""New files that a person names: never over one that is there, whole or not at all, refused in one sentence."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.contract.findings import BadInput
from pipeline.contract.whole_files import replace_file


def check_is_new(out: Path) -> None:
    """BadInput for a file that is there already, a name that cannot be one, and a folder that is not there."""
    try:
        if out.exists() or out.is_symlink():
            raise BadInput(f"{out} is there already and is not overwritten; name another file.")
        if not out.absolute().parent.is_dir():
            raise BadInput(f"The folder {out.absolute().parent} is not there; make it first, or name another.")
        out.lstat()
    except FileNotFoundError:
        return
    except OSError as error:
        raise BadInput(f"{out} cannot be written: {error.strerror or error}.") from error


@contextmanager
def new_file(out: Path) -> Iterator[Path]:
    """A file to write into, which gets the name `out` when it is whole; nothing stays of one that fails.

    BadInput where the name is taken, or the disk refuses.
    """
    check_is_new(out)
    part = out.with_name(f".{os.getpid()}.part{out.suffix}")
    try:
        yield part
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        replace_file(part, out)
    except Exception as error:
        cause = next((each for each in (error, *error.args) if isinstance(each, OSError)), None)  # XLSX wraps it
        if cause is None:
            raise
        raise BadInput(f"{out} cannot be written: {cause.strerror or cause}.") from error
    finally:
        part.unlink(missing_ok=True)
