"""Heavy work in a process of its own, at low priority, one piece at a time: pages stay quick meanwhile.

START HERE: `ask` (who wants it) → `main` (the process that does it) → `at_work` (who looks on). How far it is stands in
a file of the book, for every page that waits for it. It ends with whoever started it: what is half done is swept away
by the next one.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from dashboard.services.passed_on import packed, unpacked
from dashboard.services.progress import Bars, Show
from models.refusals import Refusal
from pipeline.contract.findings import BookError, SludgebookError
from pipeline.contract.whole_files import replace_file
from pipeline.store.book import Book

LOCK, STATUS = ".working.lock", ".working.json"
LOOKS_SECONDS = 0.5
"""How often one that waits for its turn looks again."""
COMMAND = "sludgebook"
POLITE = 5
"""How much nicer to others than the pages (POSIX)."""
STOPPED = "The work stopped before it was done; the book is as it was. Try again."


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
    ask(folder, build, "learn", {}, show)


def ask(folder: Path, build: Path, work: str, given: dict[str, Any], show: Show) -> Any:
    """Have one of `WORKS` done in a process of its own; its answer. Refusal and SludgebookError come from there too.

    `given` are its arguments; they and the answer are such as `passed_on` takes.
    """
    command = [sys.executable, "-m", "dashboard.services.apart", str(folder), str(build), work]
    slower = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)
    pipe = subprocess.PIPE
    with subprocess.Popen(
        command, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL, text=True, encoding="utf-8", creationflags=slower
    ) as process:
        try:
            with suppress(OSError):  # it has ended already: what it says, or its silence, tells why
                assert process.stdin is not None  # open for as long as somebody waits
                process.stdin.write(packed(given) + "\n")
                process.stdin.flush()
            return _told(process, show)
        finally:
            process.kill()  # nobody waits for it any more; one that has ended is not hurt
            with suppress(OSError):  # what it never read is still on its way to it
                assert process.stdin is not None
                process.stdin.close()


def _told(process: subprocess.Popen[str], show: Show) -> Any:
    """Pass on how far it is until it answers; what stopped it is raised."""
    for line in process.stdout or ():
        try:
            said = json.loads(line)
        except ValueError:
            continue  # a library's own word
        if "answer" in said:
            return unpacked(said["answer"])
        if "refused" in said:
            raise Refusal(said["refused"])
        if "impossible" in said:
            raise BookError(*said["impossible"])
        show(int(said["done"]), max(1, int(said["of"])))
    raise BookError(STOPPED)


@contextmanager
def turn(folder: Path) -> Iterator[None]:
    """One piece of heavy work at a time on a book: waits until it is its turn. A book that takes no file has no turns:
    what only reads it goes on, what writes to it says itself that it cannot."""
    lock = FileLock(folder / LOCK, poll_interval=LOOKS_SECONDS)
    try:
        lock.acquire()
    except OSError:
        yield
        return
    try:
        yield
    finally:
        with suppress(OSError):
            (folder / STATUS).unlink(missing_ok=True)
        lock.release()


@contextmanager
def commanded(folder: Path, bars: Bars, say: Callable[[str], None]) -> Iterator[Bars]:
    """The same for a command, whose process is its own: it says for what it waits, notes how far it is for the pages,
    and is nicer to others."""
    if (other := at_work(folder)) is not None:
        say(f"Waits until other work on this book is done: {other.what.lower()}.")
    if Path(getattr(sys.modules["__main__"], "__file__", None) or "").stem == COMMAND:
        yield_to_others()  # not where the command is called within another program
    with turn(folder):
        yield noted(folder, bars)


def noted(folder: Path, bars: Bars) -> Bars:
    """The same bars, with how far they are noted in the book for those who wait."""

    @contextmanager
    def both(title: str) -> Iterator[Show]:
        with bars(title) as draw:

            def show(done: int, of: int) -> None:
                _write(folder, AtWork(title, done, of))
                draw(done, of)

            _write(folder, AtWork(title, 0, 1))
            yield show

    return both


def yield_to_others() -> None:
    """Be nicer to others from now on; Windows is told when the process is started."""
    nice = getattr(os, "nice", None)
    if nice:
        nice(POLITE)


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


def _learn(book: Book, build: Path, bars: Bars) -> None:
    from dashboard.services.training import train

    train(book, build, bars=bars)


def _audit(_: Book, build: Path, bars: Bars, **given: Any) -> object:
    from dashboard.services.auditing import audit_of_build

    return audit_of_build(build, bars, **given)


def _against_others(_: Book, build: Path, bars: Bars, **given: Any) -> object:
    from dashboard.services.auditing import against_others_of_build

    return against_others_of_build(build, bars, **given)


WORKS: dict[str, Callable[..., object]] = {"learn": _learn, "audit": _audit, "against_others": _against_others}


def main(folder: Path, build: Path, work: str) -> None:
    """Do one of `WORKS`, saying how far it is, and the answer at last, on standard output."""

    @contextmanager
    def bars(_: str) -> Iterator[Show]:
        def show(done: int, of: int) -> None:
            sys.stdout.write(json.dumps({"done": done, "of": of}) + "\n")
            sys.stdout.flush()

        yield show

    given = unpacked(sys.stdin.readline())
    _end_with_the_caller()
    yield_to_others()
    try:
        with turn(folder):
            said: dict[str, object] = {"answer": packed(WORKS[work](Book(folder), build, noted(folder, bars), **given))}
    except Refusal as problem:
        said = {"refused": str(problem)}
    except SludgebookError as problem:
        said = {"impossible": [problem.sentence, problem.by_command]}
    sys.stdout.write(json.dumps(said) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3])
