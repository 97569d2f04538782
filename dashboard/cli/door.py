"""The one door of the command line: whatever goes wrong becomes one sentence and a status, its cause in a log."""

from __future__ import annotations

import sys
import traceback
from pathlib import Path

from dashboard.fault_log import write_down
from pipeline.contract.findings import SludgebookError

CANNOT, STOPPED = 2, 130
STOPPED_SENTENCE = "Stopped. Nothing that was reported as received or saved is lost."
_book: list[Path] = []


def remember(book: Path) -> Path:
    """Note which book a command is given, as its option is read: the log is kept there."""
    _book[:] = [book]
    return book


def forget() -> None:
    """Before a command: no book is known yet."""
    _book.clear()


def sentence_and_status(error: BaseException) -> tuple[str, int]:
    """What to say of an error and with which status to end; what is no plain refusal goes into the log."""
    if isinstance(error, SludgebookError):
        return " ".join(str(error).split("\n")), CANNOT
    if isinstance(error, KeyboardInterrupt):
        return STOPPED_SENTENCE, STOPPED
    where = _logged(error)
    kept = f" The cause is in {where}." if where else f" The cause: {_origin(error)}."
    if isinstance(error, OSError) and error.errno:
        names = [str(name) for name in (error.filename, error.filename2) if name]
        return f"{' and '.join(names) or 'A file'} cannot be used: {error.strerror}.{kept}", CANNOT
    if isinstance(error, MemoryError):
        return f"There is not enough memory for this; close other programs and try again.{kept}", CANNOT
    return (
        f"The program failed on this ({type(error).__name__}), which it should not. Nothing that was "
        f"reported as received or saved is lost.{kept}",
        CANNOT,
    )


def _origin(error: BaseException) -> str:
    """The first line of what was said, and the place in the program."""
    first = (str(error).strip().splitlines() or [""])[0][:200].rstrip(".")
    frames = traceback.extract_tb(error.__traceback__)
    place = f", {Path(frames[-1].filename).name} line {frames[-1].lineno}" if frames else ""
    return f"{type(error).__name__} {first}".rstrip() + place


def _logged(error: BaseException) -> Path | None:
    """Write the error to the log of the book; None where there is no book or it takes none."""
    try:
        if not _book or not (_book[0] / "received").is_dir():
            return None
    except OSError:
        return None
    typed = " ".join(argument.encode("unicode_escape").decode() for argument in sys.argv[1:])
    return write_down(_book[0], f"sludgebook {typed}", error)
