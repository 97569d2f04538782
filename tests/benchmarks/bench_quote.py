"""Speed of the quote: cold command, one warm, ten thousand at once. Run by hand; no test asserts a speed.

    python -m tests.benchmarks.bench_quote [JOBS] [REQUESTS] [COLD_RUNS]

A firm of JOBS simulated jobs is loaded and trained in a temporary folder. `cold` is the whole process of
`sludgebook quote` for one request; `warm` the page's call from the survey's rows to the quote; `batch` the whole
process for REQUESTS requests, JSON lines written. Processor time stands beside the clock: a busy machine stretches
the clock only.
"""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

TARGETS = "cold <= 2 s, warm <= 0.150 s, batch of 10,000 <= 20 s"
KINDS = ("panel_11", "panel_21", "panel_22", "towel_rail")


def say(line: str) -> None:
    """One line of the report."""
    sys.stdout.write(line + "\n")


def one_request(rng: np.random.Generator, job_id: str) -> dict[str, object]:
    """A survey as a firm might write it, some answers left out."""
    emitters = [
        {"emitter_kind": str(rng.choice(KINDS)), "cold_at_survey": bool(rng.random() < 0.2)}
        for _ in range(int(rng.integers(4, 20)))
    ]
    job: dict[str, object] = {"job_id": job_id, "system_type": str(rng.choice(["open_vented", "sealed"]))}
    job |= {"install_year": int(rng.integers(1965, 2020)), "topups_per_year": int(rng.integers(0, 5))}
    job |= {"heat_source": "boiler", "connection": "pump_tails", "isolation": "one_at_a_time"}
    return {**job, "emitters": emitters}


def sludgebook(*arguments: object) -> tuple[float, float, bytes]:
    """Clock and processor seconds of one command, and what it printed."""
    before, started = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    command = [sys.executable, "-c", "from dashboard.cli.main import main; main()", *(str(each) for each in arguments)]
    done = subprocess.run(command, check=True, capture_output=True, env=os.environ)
    seconds, after = time.perf_counter() - started, resource.getrusage(resource.RUSAGE_CHILDREN)
    return seconds, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, done.stdout


def warm(book: Path, rounds: int = 15) -> tuple[float, float]:
    """Median clock and processor seconds of the page's call, everything loaded."""
    from models.quote.answer import answer
    from models.quote.model.storage import load_quote
    from pipeline.quotes.requests import request_features, requests_from_tables
    from pipeline.store.book import Book

    opened = Book(book)
    firm, model = opened.firm(), load_quote(opened.models_dir(opened.current()))
    clock, processor = [], []
    for number in range(rounds + 2):
        job = one_request(np.random.default_rng(number), "this-job")
        emitters = job.pop("emitters")
        started, busy = time.perf_counter(), time.process_time()
        inputs = request_features(requests_from_tables([job], emitters), firm)  # type: ignore[arg-type]
        answer(model, inputs.features, inputs.volumes, firm)
        clock.append(time.perf_counter() - started)
        processor.append(time.process_time() - busy)
    return statistics.median(clock[2:]), statistics.median(processor[2:])


def main(jobs: int = 400, requests: int = 10_000, cold_runs: int = 7) -> None:
    """Print the three figures beside what they should be."""
    rng = np.random.default_rng(11)
    with tempfile.TemporaryDirectory() as folder:
        book, one, many = (Path(folder) / name for name in ("book", "one.json", "many.json"))
        one.write_text(json.dumps(one_request(rng, "this-job")))
        many.write_text(json.dumps([one_request(rng, f"r{i}") for i in range(requests)]))
        sludgebook("demo", "--book", book, "--jobs", jobs, "--no-serve")
        cold = [sludgebook("quote", one, "--book", book)[:2] for _ in range(cold_runs)]
        clock, processor = zip(*cold, strict=True)
        say(f"should be: {TARGETS}")
        say(
            f"cold   best {min(clock):.2f} s, median {statistics.median(clock):.2f} s; "
            f"processor best {min(processor):.2f} s, median {statistics.median(processor):.2f} s"
        )
        say("warm   median {:.3f} s; processor {:.3f} s".format(*warm(book)))
        seconds, busy, printed = sludgebook("quote", many, "--book", book)
        assert printed.count(b"\n") == requests
        say(f"batch  {requests:,} in {seconds:.1f} s; processor {busy:.1f} s")


if __name__ == "__main__":
    main(*(int(each) for each in sys.argv[1:]))
