"""`sludgebook serve`: runs the dashboard, tells where it is, and opens a browser window there."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import webbrowser
from pathlib import Path

from dashboard import cli_text as text
from pipeline.findings import BookError

STOP_SECONDS = 10.0
_URL = re.compile(r"URL: (http\S+)")
_STOPPED = (0, -2, -15, 130)
"""Status of a server that was stopped by a person."""


def serve(path: Path, port: int | None = None, address: str = "127.0.0.1", *, open_browser: bool = True) -> None:
    """Run the dashboard until it is stopped.

    The server itself always runs headless: otherwise it would greet people with hints for programmers.
    """
    if path.exists() and not path.is_dir():
        raise BookError(f"{path} is no folder; name the folder of a book.")
    text.say(f"The book is {path.resolve()}. Press Ctrl+C to stop.")
    command = [
        sys.executable, "-m", "streamlit", "run", str(Path(__file__).with_name("app.py")),
        "--server.address", address, "--server.headless", "true", "--browser.gatherUsageStats", "false",
        *(["--server.port", str(port)] if port is not None else []),
    ]  # fmt: skip
    environment = {**os.environ, "SLUDGEBOOK_BOOK": str(path.resolve()), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as server:
        try:
            for line in server.stdout or ():
                found = _URL.search(line)
                if found:
                    text.say(f"Open {found[1]}")
                if found and open_browser:
                    webbrowser.open(found[1])
                    open_browser = False
        finally:
            _stop(server)
    if server.returncode not in _STOPPED:
        raise BookError(f"The dashboard stopped with status {server.returncode}; the lines above say why.")


def _stop(server: subprocess.Popen[str]) -> None:
    """End the server and read what it still says: it hangs where nobody reads its last words."""
    if server.poll() is not None:
        return
    server.terminate()
    try:
        server.communicate(timeout=STOP_SECONDS)
    except subprocess.TimeoutExpired:
        server.kill()
