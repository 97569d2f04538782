"""`sludgebook serve`: runs the dashboard, tells where it is, and opens a browser window there."""

from __future__ import annotations

import io
import os
import re
import signal
import sys
import threading
import time
import webbrowser
from contextlib import redirect_stdout, suppress
from pathlib import Path
from typing import NoReturn, TextIO

from dashboard import doors
from dashboard.cli import printing as text
from dashboard.cli import warm_up
from dashboard.cli.address import check_address
from pipeline.contract.controls import shown
from pipeline.contract.findings import BookError

STOP_SECONDS = 5.0
"""A page that still computes when the server is stopped has so long; what was said to be saved is on disk."""
SWITCH_SECONDS = 0.001
"""How long one page computes while another has a line to send: a page sends a hundred, and waits so long for each."""
_URL = re.compile(r"URL: (http\S+)")


def serve(path: Path, port: int | None = None, address: str = "127.0.0.1", *, open_browser: bool = True) -> None:
    """Run the dashboard in this very process until it is stopped, and end the process with it.

    The server itself always runs headless: otherwise it would greet people with hints for programmers.
    """
    if path.exists() and not path.is_dir():
        raise BookError(f"{path} is no folder; name the folder of a book.")
    check_address(address, port)
    sys.stderr = _Plain(sys.stderr)  # the library tells the terminal of a page's fault with whatever the fault quotes
    text.say(f"The book is {path.resolve()}. Press Ctrl+C to stop.")
    os.environ["SLUDGEBOOK_BOOK"] = str(path.resolve())
    os.environ["SLUDGEBOOK_SERVED"] = "1"
    os.environ[doors.ADDRESS_VARIABLE] = address
    doors.look_nothing_up()
    sys.setswitchinterval(SWITCH_SECONDS)
    options = [
        "run",
        str(Path(__file__).parents[1] / "served.py"),
        "--server.address",
        address,
        "--server.headless",
        "true",
        "--browser.gatherUsageStats",
        "false",
        "--server.fileWatcherType",
        "none",  # nobody changes the program while it runs; looking for it costs every page
        "--runner.magicEnabled",
        "false",  # no page has a value printed by standing alone; looking for one costs every page
        "--logger.level",
        "warning",
        *(("--browser.serverAddress", "localhost") if address in doors.EVERY_ADDRESS else ()),
        *(["--server.port", str(port)] if port is not None else []),
    ]
    status = _run(options, _Greeting(open_browser=open_browser))
    if status:
        raise BookError(f"The dashboard stopped with status {status}; the lines above say why.")
    _end()


def _end() -> NoReturn:
    """Give pages that still compute a while to come to an end, then leave at once.

    The usual way out would take the interpreter from under a thread that is in foreign code, which then aborts the
    process; what a page had not finished by now is safe to lose, as on a computer that loses its power.
    """
    last = time.monotonic() + STOP_SECONDS
    with suppress(KeyboardInterrupt):
        for thread in threading.enumerate():
            if thread.name.startswith("ScriptRunner"):
                thread.join(max(0.0, last - time.monotonic()))
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(0)


def _run(options: list[str], greeting: _Greeting) -> int:
    """Run the server until it is stopped by a signal; 0, or the status with which it gave up."""
    from click import Abort
    from streamlit.web import cli

    # The web server ends tidily on a signal, then raises it once more for whoever was to hear of it: that is us.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with redirect_stdout(greeting):
        try:
            cli.main(options, prog_name="streamlit", standalone_mode=False)
        except SystemExit as end:
            return end.code if isinstance(end.code, int) else 1
        except (KeyboardInterrupt, Abort):
            pass
    return 0


class _Plain(io.TextIOBase):
    """Standard error whose control characters are written out, whoever writes."""

    def __init__(self, terminal: TextIO) -> None:
        super().__init__()
        self._terminal = terminal

    def write(self, words: str) -> int:
        """Pass on, a steering character as text."""
        self._terminal.write(shown(words))
        self._terminal.flush()
        return len(words)


class _Greeting(io.StringIO):
    """Takes the place of the terminal: hears the server's greeting and says the address in its stead."""

    def __init__(self, *, open_browser: bool) -> None:
        super().__init__()
        self._terminal = sys.stdout
        self._line = ""
        self._open_browser = open_browser
        self._is_warm = False

    def write(self, words: str) -> int:
        """Hear what is said, a line at a time."""
        *lines, self._line = (self._line + words).split("\n")  # bytes are refused, as a terminal does
        for found in filter(None, map(_URL.search, lines)):
            self._terminal.write(f"Open {found[1]}\n")
            self._terminal.flush()
            if not self._is_warm:
                warm_up.begin()
                self._is_warm = True
            if self._open_browser:
                webbrowser.open(found[1])
                self._open_browser = False
        return len(words)
