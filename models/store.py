"""Fitted models on disk: numbers as npz, boosters as skops, facts and hashes in `manifest.json`. Never pickle.

A model's folder is written under another name and renamed when whole. Loading checks every hash first, and
where there are boosters the scikit-learn version too: objects of one version may mean something else in the
next. A model of numbers alone needs no such library to be read, and is read in milliseconds.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import stat
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.contract.findings import SludgebookError
from pipeline.contract.whole_files import replace_file

FORMAT_VERSION = 2
MAX_MANIFEST_BYTES = 50_000_000
MAX_FILE_BYTES = 1_000_000_000

TRUSTED_TYPES: tuple[str, ...] = ("sklearn.ensemble._hist_gradient_boosting.predictor.TreePredictor",)
"""Types beyond skops' own trusted ones that a stored model may hold; a file with any other is refused."""

_LIBRARIES = ("numpy", "pandas", "scikit-learn", "scipy", "skops")
_MANIFEST, _ARRAYS, _BOOSTERS = "manifest.json", "arrays.npz", "boosters.skops"


@dataclass(frozen=True, slots=True, eq=False)
class Stored:
    """What a model is made of: named boosters, named arrays (numbers or text), named plain facts."""

    boosters: Mapping[str, Any] = field(default_factory=dict)
    arrays: Mapping[str, NDArray[Any]] = field(default_factory=dict)
    facts: Mapping[str, Any] = field(default_factory=dict)


def save_model(folder: Path, stored: Stored, manifest: Mapping[str, object]) -> None:
    """Write the model as `folder`, in place of an older one there. `manifest` must be JSON-able.

    SludgebookError in one sentence where the disk does not take it: then the older one stays and nothing else.
    """
    part = folder.with_name(f".{folder.name}.{os.getpid()}.part")
    try:
        _write_and_swap(part, folder, stored, manifest)
    except OSError as error:
        raise SludgebookError(
            f"The models in {folder.parent} cannot be written: {error.strerror or error}. Make room on the disk or see "
            "to the rights, then run `sludgebook train` again; what was learnt before stays."
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _write_and_swap(part: Path, folder: Path, stored: Stored, manifest: Mapping[str, object]) -> None:
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir(parents=True)
    if stored.boosters:
        import skops.io

        skops.io.dump(dict(stored.boosters), part / _BOOSTERS)
    with (part / _ARRAYS).open("wb") as file:
        np.savez_compressed(file, allow_pickle=False, **stored.arrays)
    whole = {
        **manifest,
        "format": FORMAT_VERSION,
        "versions": {name: version(name) for name in _LIBRARIES},
        "facts": dict(stored.facts),
        "files": {path.name: _sha256(path.read_bytes()) for path in sorted(part.iterdir())},
    }
    text = json.dumps(whole, indent=1, ensure_ascii=False, default=_plain)
    (part / _MANIFEST).write_text(text, encoding="utf-8")
    _swap(part, folder)


def read_manifest(folder: Path) -> dict[str, Any]:
    """The manifest of a stored model. SludgebookError when there is none or it is damaged."""
    try:
        found = json.loads(_measured(folder, _MANIFEST, MAX_MANIFEST_BYTES))
    except FileNotFoundError:
        raise SludgebookError(f"No fitted model is stored in {folder}; run `sludgebook train`.") from None
    except OSError as error:
        raise _unreadable(folder / _MANIFEST, error) from error
    except (ValueError, RecursionError):
        raise _damaged(folder, f"{_MANIFEST} is no manifest") from None
    if not isinstance(found, dict) or not {"format", "versions", "facts", "files"} <= set(found):
        raise _damaged(folder, f"{_MANIFEST} is not whole")
    if not all(isinstance(found[name], dict) for name in ("versions", "facts", "files")):
        raise _damaged(folder, f"{_MANIFEST} is not whole")
    return found


def load_model(folder: Path) -> Stored:
    """The stored model. SludgebookError in one sentence when damaged or made with other versions."""
    manifest = read_manifest(folder)
    _check_versions(folder, manifest)
    names = [name for name in (_ARRAYS, _BOOSTERS) if name == _ARRAYS or name in manifest["files"]]
    content = {name: _checked(folder, name, manifest) for name in names}
    try:
        with np.load(io.BytesIO(content[_ARRAYS]), allow_pickle=False) as archive:
            arrays = {name: archive[name] for name in archive.files}
    except (OSError, ValueError, EOFError, KeyError, SyntaxError, zlib.error, zipfile.BadZipFile):
        raise _damaged(folder, f"{_ARRAYS} cannot be read") from None
    boosters = _boosters(folder, content[_BOOSTERS]) if _BOOSTERS in content else {}
    return Stored(boosters, arrays, manifest["facts"])


def _boosters(folder: Path, content: bytes) -> dict[str, Any]:
    import skops.io

    try:
        strange = set(skops.io.get_untrusted_types(data=content)) - set(TRUSTED_TYPES)
        loaded = None if strange else skops.io.loads(content, trusted=list(TRUSTED_TYPES))
    except Exception as error:  # the reader breaks in as many ways as there are bytes
        raise _damaged(folder, f"{_BOOSTERS} cannot be read ({type(error).__name__})") from error
    if strange:
        raise _damaged(folder, f"{_BOOSTERS} holds a type that is not trusted ({', '.join(sorted(strange))})")
    if not isinstance(loaded, dict):
        raise _damaged(folder, f"{_BOOSTERS} does not hold boosters")
    return loaded


def _check_versions(folder: Path, manifest: Mapping[str, Any]) -> None:
    if manifest["format"] != FORMAT_VERSION:
        raise SludgebookError(
            f"The model in {folder} was stored by another version of Sludgebook; run `sludgebook train` again."
        )
    if _BOOSTERS not in manifest["files"]:
        return
    theirs, ours = manifest["versions"].get("scikit-learn"), version("scikit-learn")
    if theirs != ours:
        raise SludgebookError(
            f"The model in {folder} was fitted with scikit-learn {theirs} and this is {ours}; "
            "run `sludgebook train` again."
        )


def _measured(folder: Path, name: str, most_bytes: int) -> bytes:
    """A file of a model. OSError when it is not there or may not be read; SludgebookError when it is too large."""
    path = folder / name
    found = path.stat()
    if not stat.S_ISREG(found.st_mode) or found.st_size > most_bytes:
        raise _damaged(folder, f"{name} is no file of at most {most_bytes:,} bytes")
    return path.read_bytes()


def _checked(folder: Path, name: str, manifest: Mapping[str, Any]) -> bytes:
    try:
        content = _measured(folder, name, MAX_FILE_BYTES)
    except FileNotFoundError:
        raise _damaged(folder, f"{name} is missing") from None
    except OSError as error:
        raise _unreadable(folder / name, error) from error
    if _sha256(content) != manifest["files"].get(name):
        raise _damaged(folder, f"{name} is not the file that was stored")
    return content


def has_model(folder: Path) -> bool:
    """Whether a model is stored there. SludgebookError where that may not be looked up."""
    try:
        return (folder / _MANIFEST).is_file()
    except OSError as error:
        raise _unreadable(folder / _MANIFEST, error) from error


def _unreadable(path: Path, error: OSError) -> SludgebookError:
    return SludgebookError(
        f"The model file {path} cannot be read: {error.strerror or error}. "
        "Nothing is known to be wrong with it; see to the rights and the disk."
    )


def _damaged(folder: Path, what: str) -> SludgebookError:
    return SludgebookError(f"The model in {folder} is damaged: {what}; run `sludgebook train` again.")


def _swap(part: Path, folder: Path) -> None:
    """Put the finished folder in the place of the old one; the old one comes back if that fails."""
    old = folder.with_name(f".{folder.name}.{os.getpid()}.old")
    shutil.rmtree(old, ignore_errors=True)
    if folder.exists():
        replace_file(folder, old)
    try:
        replace_file(part, folder)
    except OSError:
        if old.exists():
            replace_file(old, folder)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _plain(value: object) -> object:
    if isinstance(value, np.generic):
        return value.item()
    return str(value)
