"""The phone beside the machine with 20 jobs open at once: from a tap to *saved*, and to the new forecast. Run by hand.

    python -m tests.benchmarks.bench_phone BOOK [ENTRIES]

BOOK is copied; a real server serves it. Server side: a phone sends one weighing and asks for the job again, in turn
over the jobs, 12 emitters and 20 weighings in each when the clock starts. Milliseconds of wall clock as the phone sees
them, on this machine's own address. Last the size of the page, compressed.
"""

from __future__ import annotations

import http.client
import json
import os
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import time
from contextlib import closing, contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from dashboard.phone.files import page_files
from pipeline.on_site.entries import Sender, record
from pipeline.store.book import Book

if TYPE_CHECKING:
    from collections.abc import Iterator

JOBS, EMITTERS, WEIGHED = 20, 12, 20
COMMAND = Path(sys.executable).with_name("sludgebook")


def begin(book: Book, name: str) -> None:
    """A job that began 100 min ago, weighed every 4 min, the flow on one emitter after the other."""
    began = datetime.now().replace(microsecond=0) - timedelta(minutes=100)
    emitters = [{"emitter_no": number, "emitter_kind": "panel_22"} for number in range(1, EMITTERS + 1)]
    facts = {"job": {"system_type": "sealed"}, "emitters": emitters, "flush_started_at": began}
    record(book, name, "start", facts, Sender(f"s{name}"), now=began)
    for number in range(WEIGHED):
        of = {"mass_g": 600.0 / (1 + number % 4), "trap": "magnet", "focus_emitter_no": 1 + number // 4}
        record(book, name, "catch", of, Sender(f"{name}-{number}"), now=began + timedelta(minutes=4 * (number + 1)))


@contextmanager
def served(book: Path) -> Iterator[int]:
    """The port of a server over the book."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = [COMMAND, "serve", "--book", str(book), "--port", str(port), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    try:
        while True:
            try:
                asked(port, "/_stcore/health")
                break
            except OSError:
                time.sleep(0.2)
        yield port
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(timeout=30)


def asked(port: int, path: str, body: Any = None) -> bytes:
    """One request as the page makes it."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as connection:
        given = {"content-type": "application/json", "origin": f"http://127.0.0.1:{port}"}
        text = None if body is None else json.dumps(body)
        connection.request("GET" if body is None else "POST", path, text, {} if body is None else given)
        answer = connection.getresponse()
        words = answer.read()
        if answer.status != 200:
            raise OSError(f"{path}: {answer.status} {words[:200]!r}")
        return words


def one_entry(port: int, name: str, number: int) -> tuple[float, float]:
    """Milliseconds to *saved* and to the forecast after it."""
    of = {"mass_g": 50.0, "trap": "magnet", "focus_emitter_no": 1 + number % EMITTERS}
    began = time.perf_counter()
    now_ms = time.time() * 1000
    entry = {"id": f"bench-{number:08d}", "job": name, "kind": "catch", "of": of, "at_ms": now_ms}
    answer = json.loads(asked(port, "/phone/entries", {"device": "bench", "clock_ms": now_ms, "entries": [entry]}))
    saved = time.perf_counter()
    if [result["state"] for result in answer["results"]] != ["saved"]:
        raise RuntimeError(str(answer))
    state = json.loads(asked(port, f"/phone/job/{name}"))
    seen = time.perf_counter()
    if state["forecast"] is None:
        raise RuntimeError(state["instead"])
    return 1000 * (saved - began), 1000 * (seen - began)


def say(what: str, times: list[float]) -> None:
    """Median, nine in ten, most."""
    ninth = statistics.quantiles(times, n=10)[-1]
    sys.stdout.write(
        f"{what:<32} median {statistics.median(times):6.0f} ms, 9 in 10 {ninth:6.0f}, most {max(times):6.0f}\n"
    )


def main(folder: Path, entries: int) -> None:
    """Both times over all jobs in turn; the first round of each job apart, when nothing of it is in memory."""
    names = [f"Bench {number}".replace(" ", "-") for number in range(JOBS)]
    with TemporaryDirectory() as name:
        book = Book(Path(name) / "book")
        shutil.copytree(folder, book.path)
        for each in names:
            begin(book, each)
        with served(book.path) as port:
            first = [one_entry(port, each, number) for number, each in enumerate(names)]
            later = [one_entry(port, names[number % JOBS], JOBS + number) for number in range(entries)]
    for what, times in (("first of each job", first), ("later", later)):
        say(f"tap to saved, {what}", [each[0] for each in times])
        say(f"tap to forecast, {what}", [each[1] for each in times])
    size = sum(len(file.compressed) for file in page_files().values())
    sys.stdout.write(f"the page, compressed: {size / 1000:.1f} kB in {len(page_files())} files\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 60)
