"""Twenty people at once on one dashboard, on raw sockets and without a browser, while jobs are loaded and learnt from.

`python -m tests.benchmarks.bench_many --jobs 400 --clients 20 --seconds 180`. Each client opens page after page, and
reads each for 2 to 6 seconds (an assumption). Printed: runs, faults, seconds of a run (median, 95 % under, most), the
server's processor seconds a run (which a busy machine does not change),
memory of the server at a third and at the end, how long the load and the training took, and whether the pages show
the new jobs afterwards. Aimed at: no fault, 95 % under 2 s, memory flat within a tenth.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import connect

from dashboard.services import apart
from pipeline.store.book import Book, read_records
from tests.browser.conftest import COMMAND, PAGES, _wait_for
from tests.browser.test_on_site import free_port

FAULTY = ("met a fault of its own", "Traceback")
PATIENCE_S = 120.0


@dataclass
class Seen:
    """What all clients saw: (page, seconds) of each run, and what went wrong."""

    runs: list[tuple[str, float]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def run_page(port: int, page: str) -> tuple[float, str]:
    """Open a page on a socket of its own: seconds until it is drawn, and every word of the messages."""
    began, words = time.monotonic(), []
    origin = f"http://127.0.0.1:{port}"
    address = f"ws://127.0.0.1:{port}/_stcore/stream"
    with connect(address, origin=origin, subprotocols=["streamlit"], max_size=None) as socket:  # type: ignore[arg-type, list-item]
        asked = BackMsg()
        asked.rerun_script.page_name = page
        asked.rerun_script.query_string = ""
        socket.send(asked.SerializeToString())
        while True:
            told = ForwardMsg()
            told.ParseFromString(socket.recv(timeout=PATIENCE_S))  # type: ignore[arg-type]
            words.append(str(told.delta) if told.HasField("delta") else "")
            if told.WhichOneof("type") == "script_finished" and told.script_finished == 0:
                return time.monotonic() - began, "\n".join(words)


def client(port: int, end: float, seen: Seen, seed: int) -> None:
    """One person: page after page until the end."""
    chance = random.Random(seed)
    time.sleep(chance.uniform(0, 6))
    while time.monotonic() < end:
        page = chance.choice(PAGES)
        try:
            seconds, words = run_page(port, page)
        except Exception as problem:  # whatever it is, it counts
            seen.faults.append(f"{page}: {problem!r}")
            continue
        seen.runs.append((page, seconds))
        seen.faults.extend(f"{page}: {word}" for word in FAULTY if word in words)
        time.sleep(chance.uniform(2, 6))


def memory_mb(pid: int) -> float:
    """Resident memory of a process [MB]; Linux."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) / 1024


def processor_s(pid: int) -> float:
    """Processor seconds that a process has used, its children left out; Linux."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def timed(*words: str) -> float:
    """Run a command of the book; the seconds it took."""
    began = time.monotonic()
    subprocess.run([str(COMMAND), *words], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.monotonic() - began


def main() -> None:
    """Make a book, serve it, send the clients, load and train meanwhile, and print what was seen."""
    given = argparse.ArgumentParser(description=__doc__)
    for name, usual in (("jobs", 400), ("clients", 20), ("seconds", 180)):
        given.add_argument(f"--{name}", type=int, default=usual)
    asked = given.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        book, more = Path(folder) / "book", Path(folder) / "more"
        timed("demo", "--jobs", str(asked.jobs), "--book", str(book), "--no-serve")
        timed("simulate", str(more), "--jobs", "50", "--seed", "99")
        port = free_port()
        command = [str(COMMAND), "serve", "--book", str(book), "--port", str(port), "--no-browser"]
        with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
            try:
                _wait_for(f"http://127.0.0.1:{port}/_stcore/health")
                for page in PAGES:
                    run_page(port, page)
                found = crowd(asked.clients, asked.seconds, port, server.pid, book, more)
            finally:
                server.terminate()
    sys.stdout.write(json.dumps(found, indent=1) + "\n")


def told(port: int, page: str) -> str:
    """Every word of a page once nothing on it waits any more."""
    end = time.monotonic() + PATIENCE_S
    while "waits until" in (words := run_page(port, page)[1]) or ": step " in words or ": begins" in words:
        if time.monotonic() > end:
            break
        time.sleep(1)
    return words


def crowd(clients: int, seconds: int, port: int, pid: int, book: Path, more: Path) -> dict[str, object]:
    """All clients for so many seconds; the load and the training a third of the way."""
    seen, end = Seen(), time.monotonic() + seconds
    threads = [threading.Thread(target=client, args=(port, end, seen, number)) for number in range(clients)]
    for thread in threads:
        thread.start()
    time.sleep(seconds / 3)
    before, worked = memory_mb(pid), processor_s(pid)
    ran = len(seen.runs)
    load_s = timed("load", str(more), "--book", str(book))
    build = Book(book).current()
    began = time.monotonic()
    apart.learn(book, build, lambda done, of: None)
    train_s = time.monotonic() - began
    for thread in threads:
        thread.join()
    held = read_records(build, "select count(*) as jobs from jobs")[0]["jobs"]
    worked = (processor_s(pid) - worked) / max(1, len(seen.runs) - ran)
    took = np.array([each for _, each in seen.runs])
    pages = {page: round(float(np.median([s for p, s in seen.runs if p == page] or [0])), 2) for page in PAGES}
    return {
        "runs": len(seen.runs),
        "faults": seen.faults[:20],
        "run_s": {"median": float(np.median(took)), "95 %": float(np.quantile(took, 0.95)), "most": float(took.max())},
        "server_processor_s_a_run": round(worked, 3),
        "under_2_s_share": float((took < 2).mean()),
        "median_s_by_page": pages,
        "memory_mb": [round(before), round(memory_mb(pid))],
        "load_s": round(load_s, 1),
        "train_s": round(train_s, 1),
        "pages_show_the_new_jobs": f"The book holds {held:,} jobs" in told(port, "intake"),
        "pages_use_the_new_forecasts": "before the newest files" not in told(port, "forecasts"),
    }


if __name__ == "__main__":
    main()
