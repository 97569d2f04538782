"""`sludgebook serve`: runs the dashboard, tells where it is, and opens a browser window there."""

from __future__ import annotations

import io
import os
import re
import sys
import threading
import webbrowser
from contextlib import redirect_stdout
from pathlib import Path

from dashboard import cli_text as text
from pipeline.findings import BookError

STOP_SECONDS = 10.0
"""A page that still computes when the server is stopped has so long; what was said to be saved is on disk."""
_URL = re.compile(r"URL: (http\S+)")


def serve(path: Path, port: int | None = None, address: str = "127.0.0.1", *, open_browser: bool = True) -> None:
    """Run the dashboard in this very process until it is stopped: whatever ends the one ends the other.

    The server itself always runs headless: otherwise it would greet people with hints for programmers.
    """
    if path.exists() and not path.is_dir():
        raise BookError(f"{path} is no folder; name the folder of a book.")
    text.say(f"The book is {path.resolve()}. Press Ctrl+C to stop.")
    os.environ["SLUDGEBOOK_BOOK"] = str(path.resolve())
    options = [
        "run", str(Path(__file__).with_name("app.py")), "--server.address", address, "--server.headless", "true",
        "--browser.gatherUsageStats", "false", "--logger.level", "warning",
        *(["--server.port", str(port)] if port is not None else []),
    ]  # fmt: skip
    status = _run(options, _Greeting(open_browser=open_browser))
    if status:
        raise BookError(f"The dashboard stopped with status {status}; the lines above say why.")
    last = threading.Timer(STOP_SECONDS, os._exit, (0,))
    last.daemon = True
    last.start()


def _run(options: list[str], greeting: _Greeting) -> int:
    """Run the server until it is stopped by a signal; 0, or the status with which it gave up."""
    from streamlit.web import cli

    with redirect_stdout(greeting):
        try:
            cli.main(options, prog_name="streamlit", standalone_mode=False)
        except SystemExit as end:
            return end.code if isinstance(end.code, int) else 1
        except KeyboardInterrupt:
            pass
    return 0


class _Greeting(io.StringIO):
    """Takes the place of the terminal: hears the server's greeting and says the address in its stead."""

    def __init__(self, *, open_browser: bool) -> None:
        super().__init__()
        self._terminal = sys.stdout
        self._line = ""
        self._open_browser = open_browser

    def write(self, words: str) -> int:
        """Hear what is said, a line at a time."""
        *lines, self._line = (self._line + words).split("\n")  # bytes are refused, as a terminal does
        for found in filter(None, map(_URL.search, lines)):
            self._terminal.write(f"Open {found[1]}\n")
            self._terminal.flush()
            if self._open_browser:
                webbrowser.open(found[1])
                self._open_browser = False
        return len(words)
