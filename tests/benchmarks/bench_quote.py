"""Speed of the command and of the quote, alone or beside another checkout. Run by hand; no test asserts a speed.

    python -m tests.benchmarks.bench_quote [--jobs 400] [--requests 10000] [--runs 7] [--against PATH]

A firm of simulated jobs is loaded and trained in a temporary folder, by each checkout for itself. `help` is the whole
process of `sludgebook --help`; `cold` that of `sludgebook quote` for one request; `warm` the page's call from the
survey's rows to the quote; `batch` the whole process for many requests, JSON lines written. `--against` names a second
checkout with a virtual environment of its own in `.venv`; runs take turns, and the ratio is ours to its. Processor time
stands beside the clock: a busy machine stretches the clock far and processor time somewhat, a ratio hardly.
Compiled modules are kept, as in a usual install, and the first run of each kind is not counted.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

TARGETS = "on a quiet machine: help <= 0.35 s, cold <= 0.80 s, warm <= 0.080 s, batch of 10,000 <= 10 s"
KINDS = ("panel_11", "panel_21", "panel_22", "towel_rail")
ROOT = Path(__file__).parents[2]

Seconds = tuple[float, float]
"""Of the clock and of the processor."""


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


@dataclass(frozen=True, slots=True)
class Checkout:
    """A working copy with its own interpreter, and the book that it made."""

    root: Path
    python: Path
    book: Path

    def run(self, *command: object) -> tuple[Seconds, bytes]:
        """Seconds of a process of this checkout, and what it printed."""
        env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        before, started = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        words = [str(each) for each in command]
        done = subprocess.run(words, check=True, capture_output=True, env=env, cwd=self.root)
        clock, after = time.perf_counter() - started, resource.getrusage(resource.RUSAGE_CHILDREN)
        return (clock, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime), done.stdout

    def sludgebook(self, *arguments: object) -> tuple[Seconds, bytes]:
        """Seconds of one command, and what it printed."""
        return self.run(self.python.with_name("sludgebook"), *arguments)

    def quote(self, request: Path, lines: int) -> Seconds:
        """Seconds of a quote command, which must print so many lines."""
        seconds, printed = self.sludgebook("quote", request, "--book", self.book)
        assert printed.count(b"\n") == lines
        return seconds

    def warm(self) -> Seconds:
        """Median seconds of the page's call in a process where everything is loaded, by the checkout's own code."""
        code = "import sys; from pathlib import Path; from tests.benchmarks.bench_quote import warm; "
        code += "print(*warm(Path(sys.argv[1])))"
        clock, processor = self.run(self.python, "-c", code, self.book)[1].split()
        return float(clock), float(processor)


def warm(book: Path, rounds: int = 15) -> Seconds:
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


def measured(kind: str, runs: int, checkouts: list[Checkout], once: Callable[[Checkout], Seconds]) -> None:
    """Run it by turns and print each checkout's figures, ours first, and the ratio of ours to the other's."""
    found: list[list[Seconds]] = [[] for _ in checkouts]
    for _ in range(runs + 1):
        for checkout, seconds in zip(checkouts, found, strict=True):
            seconds.append(once(checkout))
    best = [[min(column) for column in zip(*seconds[1:], strict=True)] for seconds in found]
    middle = [[statistics.median(column) for column in zip(*seconds[1:], strict=True)] for seconds in found]
    told = [
        f"clock best {least[0]:.3f} median {median[0]:.3f}, processor best {least[1]:.3f} median {median[1]:.3f}"
        for least, median in zip(best, middle, strict=True)
    ]
    say(f"{kind:<6} {told[0]} s")
    if len(told) > 1:
        say(f"       {told[1]} s, the other")
        say(f"       processor: best {best[0][1] / best[1][1]:.2f}, median {middle[0][1] / middle[1][1]:.2f} of it")


def main(jobs: int, requests: int, runs: int, against: Path | None) -> None:
    """Print the four figures beside what they should be."""
    rng = np.random.default_rng(11)
    with tempfile.TemporaryDirectory() as folder:
        one, many = (Path(folder) / name for name in ("one.json", "many.json"))
        one.write_text(json.dumps(one_request(rng, "this-job")))
        many.write_text(json.dumps([one_request(rng, f"r{i}") for i in range(requests)]))
        checkouts = [Checkout(ROOT, Path(sys.executable), Path(folder) / "book")]
        if against:
            root = against.resolve()
            checkouts.append(Checkout(root, root / ".venv" / "bin" / "python", Path(folder) / "other"))
        for each in checkouts:
            each.sludgebook("demo", "--book", each.book, "--jobs", jobs, "--no-serve")
        say(f"should be, {TARGETS}")
        measured("help", runs, checkouts, lambda each: each.sludgebook("--help")[0])
        measured("cold", runs, checkouts, lambda each: each.quote(one, 1))
        measured("warm", max(runs // 2, 1), checkouts, Checkout.warm)
        measured("batch", max(runs // 4, 1), checkouts, lambda each: each.quote(many, requests))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name, default in (("--jobs", 400), ("--requests", 10_000), ("--runs", 7)):
        parser.add_argument(name, type=int, default=default)
    parser.add_argument("--against", type=Path)
    main(**vars(parser.parse_args()))
