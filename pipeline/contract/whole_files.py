"""Files that appear whole or not at all, on every system: written under another name, synced, renamed."""

from __future__ import annotations

import os
import time
from pathlib import Path

_IS_WINDOWS = os.name == "nt"
_WAITS_S = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
"""Windows does not replace what somebody reads at this moment; readers here read for a blink."""


def write_whole(path: Path, data: bytes) -> None:
    """Write a file under another name, sync it to disk, and rename it: whole or not at all."""
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        replace_file(part, path)
    except OSError:
        part.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def replace_file(part: Path, path: Path) -> None:
    """Rename a file or folder to its name, in the place of an older file; where a reader holds that, wait for it.

    OSError when it cannot be replaced.
    """
    for wait_s in _WAITS_S if _IS_WINDOWS else ():
        try:
            part.replace(path)
            return
        except PermissionError:
            time.sleep(wait_s)
    part.replace(path)


def sync_folder(folder: Path) -> None:
    """Make a rename in a folder last through a power cut; Windows has no such call and needs none."""
    if _IS_WINDOWS:
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
