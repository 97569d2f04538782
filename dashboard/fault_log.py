"""The one log of a book for what nobody foresaw, at the command line or on a page: what was done, and where it failed.

It turns: at most four files of a megabyte. It holds what was typed or open and where the program was, no rows of the
book but what a fault happens to quote; control characters are written out.
"""

from __future__ import annotations

from pathlib import Path

LOG = "sludgebook.log"
MAX_BYTES, KEPT = 1_000_000, 3
"""Size of the log before a new one is begun, and how many older ones are kept."""


def write_down(folder: Path, what: str, fault: BaseException) -> Path | None:
    """Append a fault, and `what` was done, to the log of a book; where it stands, None where it takes none."""
    import logging
    from logging.handlers import RotatingFileHandler

    from pipeline.contract.controls import shown

    class Lines(logging.Formatter):
        def format(self, record: logging.LogRecord) -> str:
            return shown(super().format(record))

    path = folder / LOG
    try:
        handler = RotatingFileHandler(
            path, maxBytes=MAX_BYTES, backupCount=KEPT, encoding="utf-8", errors="backslashreplace"
        )
    except OSError:
        return None
    handler.setFormatter(Lines("%(asctime)s %(message)s"))
    failed: list[logging.LogRecord] = []
    handler.handleError = failed.append  # type: ignore[method-assign, assignment]
    record = logging.LogRecord("sludgebook", logging.ERROR, "", 0, "%s", (what,), None)
    record.exc_info = (type(fault), fault, fault.__traceback__)
    handler.handle(record)
    handler.close()
    return None if failed else path
