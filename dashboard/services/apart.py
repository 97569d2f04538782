"""Heavy work in a process of its own, at low priority, one piece at a time: pages stay quick meanwhile.

`python -m dashboard.services.apart BOOK BUILD` learns from a build. How far it is stands in a file of the book, for
every page that waits for it. It ends with whoever started it: what is half done is swept away by the next one.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from dashboard.services.progress import Show
from pipeline.contract.findings import BookError, SludgebookError
from pipeline.contract.whole_files import replace_file
from pipeline.store.book import Book

LOCK, STATUS = ".working.lock", ".working.json"
LOOKS_SECONDS = 0.5
"""How often one that waits for its turn looks again."""
POLITE = 5
"""How much nicer to others than the pages (POSIX)."""


@dataclass(frozen=True, slots=True)
class AtWork:
    """The heavy work that runs on a book now: what it is, the steps done, and the steps in all."""

    what: str
    done: int
    of: int


def at_work(folder: Path) -> AtWork | None:
    """What runs on a book now; None where nothing does. What one that was killed has left behind counts for nothing."""
    try:
        found = json.loads((folder / STATUS).read_text(encoding="utf-8"))
        known = AtWork(str(found["what"]), int(found["done"]), int(found["of"]))
        with FileLock(folder / LOCK, timeout=0):
            return None
    except Timeout:
        return known
    except (OSError, ValueError, KeyError, TypeError):
        return None


def learn(folder: Path, build: Path, show: Show) -> None:
    """Learn from a build in a process of its own; `show` is told how far it is. SludgebookError says why it was not."""
    command = [sys.executable, "-m", "dashboard.services.apart", str(folder), str(build)]
    slower = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)
    pipe = subprocess.PIPE
    with subprocess.Popen(
        command, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL, text=True, encoding="utf-8", creationflags=slower
    ) as process:
        try:
            refused = _told(process, show)
        finally:
            process.kill()  # nobody waits for it any more; one that has ended is not hurt
    if refused is not None:
        raise BookError(refused)


def _told(process: subprocess.Popen[str], show: Show) -> str | None:
    """Pass on how far it is until it ends; why nothing was learnt, None where all was."""
    for line in process.stdout or ():
        with suppress(ValueError):
            said = json.loads(line)
            if "refused" in said:
                return str(said["refused"])
            show(int(said["done"]), max(1, int(said["of"])))
    return None if process.wait() == 0 else "Learning stopped before it was done; the jobs are as they were. Try again."


@contextmanager
def turn(folder: Path) -> Iterator[None]:
    """One piece of heavy work at a time on a book: waits until it is its turn."""
    with FileLock(folder / LOCK, poll_interval=LOOKS_SECONDS):
        try:
            yield
        finally:
            (folder / STATUS).unlink(missing_ok=True)


def _end_with_the_caller() -> None:
    """End at once when the one who started this is gone: its end of the pipe closes then, however it ended."""

    def listen() -> None:
        sys.stdin.read()
        os._exit(1)

    threading.Thread(target=listen, daemon=True).start()


def _write(folder: Path, at: AtWork) -> None:
    part = folder / f"{STATUS}.part"
    with suppress(OSError):  # only for those who look on
        part.write_text(json.dumps(asdict(at)), encoding="utf-8")
        replace_file(part, folder / STATUS)


def main(folder: Path, build: Path) -> None:
    """Learn from a build, saying how far it is on standard output and in the book."""
    from dashboard.services.training import train

    @contextmanager
    def bars(title: str) -> Iterator[Show]:
        def show(done: int, of: int) -> None:
            _write(folder, AtWork(title, done, of))
            sys.stdout.write(json.dumps({"done": done, "of": of}) + "\n")
            sys.stdout.flush()

        yield show

    _end_with_the_caller()
    yield_to_others = getattr(os, "nice", None)  # Windows is told when the process is started
    if yield_to_others:
        yield_to_others(POLITE)
    try:
        with turn(folder):
            train(Book(folder), build, bars=bars)
    except SludgebookError as problem:
        sys.stdout.write(json.dumps({"refused": problem.sentence}) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
