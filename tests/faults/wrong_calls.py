"""Wrong calls of the command line, a line each: what is typed, what was done to the book before, what is told.

`{tmp}` is a folder with the odd files of `odd_files`, `{book}` a copy of the hand-written book, `{none}` no book.
"""

from __future__ import annotations

import json
import os
import shutil
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from pipeline.store.book import Book

LONG = "x" * 300


class Call(NamedTuple):
    """What is typed; a pattern of what is told; what is done to the book before."""

    typed: str
    told: str
    harm: Callable[[Book], None] | None = None

    @property
    def name(self) -> str:
        """For the list of tests."""
        harm = "" if self.harm is None else f" after {getattr(self.harm, '__name__', 'harm')}"
        return f"{self.typed.replace(LONG, 'LONG')[:60]}{harm}"


def odd_files(folder: Path) -> None:
    """Files that nobody should hand in, by the names that the calls use."""
    texts = {
        "deep.json": "[" * 50_000 + "]" * 50_000,
        "nested.json": '{"a": ' * 60 + "1" + "}" * 60,
        "surrogate.json": '{"job_id": "\\ud800", "system_type": "sealed"}',
        "surrogate_key.json": '{"\\udfff": 1, "system_type": "sealed"}',
        "digits.json": '{"job_id": "a", "system_type": "sealed", "storeys": ' + "9" * 5_000 + "}",
        "number.json": "7",
        "text.json": '"sealed"',
        "list.json": "[1, 2]",
        "empty.json": "",
        "half.json": '{"job_id": "a", ',
        "no_system.json": '{"job_id": "a"}',
        "rows.json": '{"job_id": "a", "system_type": "sealed", "emitters": 7}',
        "tables.json": '{"jobs": [1]}',
        "empty.csv": "",
        "empty.xlsx": "",
        "empty.zip": "",
        "empty.parquet": "",
        "letter.pdf": "dear",
        "old.xls": "old",
        "deep.toml": "a = " + "[" * 5_000 + "]" * 5_000,
        "nested.toml": "a = " + "[" * 60 + "]" * 60,
        "digits.toml": "version = " + "9" * 5_000,
        "broken.toml": "version = ",
        "strange.toml": "colour = 'red'",
        "taken.csv": "mine",
        "taken.xlsx": "mine",
        "taken.pdf": "mine",
        "taken.zip": "mine",
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "latin.json").write_bytes('{"job_id": "Küche"}'.encode("latin-1"))
    (folder / "latin.toml").write_bytes("a = 'Küche'".encode("latin-1"))
    (folder / "binary.csv").write_bytes(bytes(range(256)) * 20)
    (folder / "folder").mkdir()
    (folder / "folder.json").mkdir()
    (folder / "good.json").write_text(json.dumps({"job_id": "a", "system_type": "sealed"}), encoding="utf-8")
    for name in ("pipe.csv", "jobs.csv", "pipe.json", "pipe.toml", "pipe.zip"):
        os.mkfifo(folder / name)
    for name in ("zero.csv", "zero.json", "zero.toml", "zero.zip"):
        (folder / name).symlink_to("/dev/zero")


def overlong_pointer(book: Book) -> None:
    for build in book.builds.iterdir():
        build.unlink()
    (book.path / "current").write_text("x" * 5_000, encoding="utf-8")


def pointer_to_nothing(book: Book) -> None:
    (book.path / "current").write_text("0123456789abcdef.duckdb\n", encoding="utf-8")


def no_received(book: Book) -> None:
    shutil.rmtree(book.received)


def spoilt_build(book: Book) -> None:
    book.current().write_bytes(b"not a database" * 100)


def build_gone(book: Book) -> None:
    book.current().unlink()


def cut_checked(book: Book) -> None:
    for path in book.checked.rglob("*.parquet"):
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def cut_manifest(book: Book) -> None:
    manifest = next(book.received.glob("*/manifest.json"))
    manifest.write_bytes(manifest.read_bytes()[:40])


def pipe_for_manifest(book: Book) -> None:
    manifest = next(book.received.glob("*/manifest.json"))
    manifest.unlink()
    os.mkfifo(manifest)


def settings(text: str) -> Callable[[Book], None]:
    def harm(book: Book) -> None:
        book.firm_file.write_text(text, encoding="utf-8")

    harm.__name__ = f"settings {text[:20]}"
    return harm


def pipe_for_settings(book: Book) -> None:
    book.firm_file.unlink()
    os.mkfifo(book.firm_file)


def folder_for_settings(book: Book) -> None:
    book.firm_file.unlink()
    book.firm_file.mkdir()


def emptied_key(book: Book) -> None:
    (book.path / "id.key").write_bytes(b"")


def picture_head(width: int, height: int) -> bytes:
    """The beginning of a PNG that says it is so large."""
    body = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = struct.pack(">I", 13) + body + struct.pack(">I", zlib.crc32(body))
    for kind in (b"IDAT", b"IEND"):
        chunks += struct.pack(">I", 0) + kind + struct.pack(">I", zlib.crc32(kind))
    return b"\x89PNG\r\n\x1a\n" + chunks


def mark(content: bytes, name: str) -> Callable[[Book], None]:
    def harm(book: Book) -> None:
        (book.path / "mark.png").write_bytes(content)
        book.firm_file.write_text("mark_file = 'mark.png'\n", encoding="utf-8")

    harm.__name__ = name
    return harm


vast_mark = mark(picture_head(60_000, 60_000), "vast_mark")
large_mark = mark(picture_head(9_000, 9_000), "large_mark")
no_mark = mark(b"GIF89a", "no_mark")


def model_files(name: str, content: bytes, manifest: object = None) -> Callable[[Book], None]:
    """The manifest names the file with its own hash, so that the content itself is what is wrong."""
    from hashlib import sha256

    def harm(book: Book) -> None:
        folder = book.models_dir(book.current()) / "quote"
        folder.mkdir(parents=True)
        (folder / name).write_bytes(content)
        files = {name: sha256(content).hexdigest()}
        facts = {"format": 2, "versions": {}, "facts": {}, "files": files} if manifest is None else manifest
        if name != "manifest.json":
            (folder / "manifest.json").write_text(json.dumps(facts), encoding="utf-8")

    harm.__name__ = f"model_{name}_{content[:6]!r}_{'' if manifest is None else 'own manifest'}"
    return harm
