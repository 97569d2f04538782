"""Kill a process that loads, builds or saves an entry, at random points, and see that nothing is lost or halved.

`python -m tests.faults.kill_many --kills 200 --seed 1`. After each kill: `verify` is clean, loading again
gives byte for byte the tables of a load that was left in peace, and every entry that was said to be
saved is there. Half of the kills come after a random time, half at a random call inside the process.
Needs a system that can fork.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import threading
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from types import FrameType

import polars as pl

from pipeline.contract import BUILT
from pipeline.intake.load import load
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.finish import hand_in
from pipeline.on_site.open_job import read_site_job
from pipeline.store.book import Book, open_build
from pipeline.store.export import write_frame
from pipeline.store.journal import append, read_journal
from pipeline.store.received import batches
from pipeline.verify.verify_book import verify

HAND_WRITTEN = Path(__file__).parents[1] / "data" / "hand_written"
SCENARIOS = ("first_load", "correction", "many_at_once", "on_site", "site_job")
ENTRIES = 400
SITE_CATCHES = 60
NOON = datetime(2025, 3, 4, 12, 0)


PLAYED = ["start", *(f"catch-{number}" for number in range(1, SITE_CATCHES + 1)), "finish"]
ON_SITE = ("on_site", "site_job")


@dataclass(frozen=True, slots=True)
class Kill:
    """When to kill: after so many seconds, or at the process's so-manieth call."""

    after_s: float | None
    at_call: int | None


def in_child(action: Callable[[], None], kill: Kill | None = None) -> int:
    """Run an action in a process of its own, killed as told; its exit status, -9 when it was killed."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            if kill and kill.at_call:
                die_at_call(kill.at_call)
            action()
            status = 0
        except BaseException as error:
            sys.stderr.write(f"{type(error).__name__}: {error}\n")
        finally:
            os._exit(status)
    if kill and kill.after_s is not None:
        time.sleep(kill.after_s)
        os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def die_at_call(number: int) -> list[int]:
    """Let this process kill itself at its so-manieth call of any function, built-in ones included; the count so far."""
    calls = [0]

    def count(frame: FrameType, event: str, _: object) -> None:
        if event in ("call", "c_call"):
            calls[0] += 1
            if calls[0] == number:
                os.kill(os.getpid(), signal.SIGKILL)

    threading.setprofile(count)
    sys.setprofile(count)
    return calls


def tables_digest(book: Book) -> str:
    """SHA-256 over every table of the current build, exported as CSV."""
    digest = hashlib.sha256()
    with open_build(book.current()) as connection, tempfile.TemporaryDirectory() as folder:
        for name, table in BUILT.items():
            out = Path(folder) / f"{name}.csv"
            rows = connection.table(name).order(", ".join(table.key)).to_arrow_table()
            write_frame(pl.DataFrame(rows), out)
            digest.update(out.read_bytes())
    return digest.hexdigest()


def correction(folder: Path) -> Path:
    """A second load: a corrected job, a new one, and catches of one that is not there."""
    head, *rows = (HAND_WRITTEN / "jobs.csv").read_text(encoding="utf-8").splitlines()
    more = [head, rows[0].replace("house", "bungalow"), rows[1].replace("H-02", "N-01")]
    catches = ["job_id,catch_no,caught_at,trap,mass_g", "Z-9,1,2024-03-11T10:00,magnet,300"]
    folder.mkdir()
    (folder / "jobs.csv").write_text("\n".join(more) + "\n", encoding="utf-8")
    (folder / "catches.csv").write_text("\n".join(catches) + "\n", encoding="utf-8")
    return folder


def play_job(book: Book, saved: Callable[[], None]) -> None:
    """A job on site from its start into the book; `saved` is called whenever an entry was said to be saved."""
    begin = {"job": {"system_type": "sealed"}, "emitters": [{"emitter_no": 1}], "flush_started_at": NOON}
    record(book, "H-99", "start", begin, Sender("start"), now=NOON)
    saved()
    for number in range(1, SITE_CATCHES + 1):
        facts = {"mass_g": 10.0 * number, "trap": "magnet", "focus_emitter_no": 1}
        record(book, "H-99", "catch", facts, Sender(f"catch-{number}"), now=NOON + timedelta(minutes=number))
        saved()
    end = NOON + timedelta(minutes=SITE_CATCHES + 1)
    record(book, "H-99", "finish", {"flush_ended_at": end}, Sender("finish"), now=end)
    saved()
    hand_in(book, "H-99")


class Trial:
    """One scenario: the book it begins with, the loads it makes, and what they give when left in peace."""

    def __init__(self, name: str, folder: Path) -> None:
        self.name, self.folder = name, folder
        self.start = Book(folder / "start")
        self.logs = [HAND_WRITTEN] if name != "correction" else [correction(folder / "more")]
        if name == "many_at_once":
            self.logs.append(correction(folder / "more"))
        if name == "correction" and in_child(lambda: void(load([HAND_WRITTEN], self.start))):
            raise RuntimeError("the first load failed")
        peace = Book(folder / "peace")
        self._begin(peace)
        started = time.perf_counter()
        if in_child(lambda: self.run(peace)):
            raise RuntimeError("the undisturbed run failed")
        self.seconds = time.perf_counter() - started
        self.expected = self.told(peace)
        counted = Book(folder / "counted")
        self._begin(counted)
        self.calls = int(self._in_child_told(lambda: self._calls(counted)))

    def _calls(self, book: Book) -> str:
        calls = die_at_call(0)
        self.run(book)
        sys.setprofile(None)
        return str(calls[0])

    def _begin(self, book: Book) -> None:
        if self.start.path.exists():
            shutil.copytree(self.start.path, book.path)

    def run(self, book: Book) -> None:
        """What is disturbed: loads one after the other, or entries of which each is noted once it is saved."""
        if self.name not in ON_SITE:
            for log in self.logs:
                load([log], book)
            return
        with (book.path.parent / f"{book.path.name}-saved").open("ab", buffering=0) as saved:
            if self.name == "site_job":
                play_job(book, lambda: void(saved.write(b"x")))
                return
            for number in range(ENTRIES):
                append(book, "own/H-01", {"number": number, "note": "grey sludge " * (number % 9)})
                saved.write(b"x")

    def _rest(self, book: Book) -> None:
        before = len(batches(self.start)) if self.start.path.exists() else 0
        for log in self.logs[max(0, len(batches(book)) - before - 1) :]:
            load([log], book)

    def told(self, book: Book) -> str:
        """Digest of the exported tables, worked out in a process of its own."""
        return self._in_child_told(lambda: tables_digest(book)) if self.name != "on_site" else ""

    def _in_child_told(self, action: Callable[[], str]) -> str:
        out = self.folder / "told"
        status = in_child(lambda: void(out.write_text(action(), encoding="utf-8")))
        return out.read_text(encoding="utf-8") if status == 0 else f"failed with status {status}"

    def disturb(self, number: int, kill: Kill) -> tuple[bool, list[str]]:
        """Run, kill, verify, run again, compare: whether the kill came in time, and what is wrong, if anything."""
        book = Book(self.folder / f"killed-{number}")
        self._begin(book)
        status = in_child(lambda: self.run(book), kill)
        wrong = [] if status in (0, -9) else [f"the process ended with status {status} by itself"]
        wrong += self._unclean(book, "after the kill")
        if self.name in ON_SITE:
            wrong += self._entries_lost(book)
        if self.name != "on_site":
            wrong += self._loaded_again(book)
        if not wrong:
            shutil.rmtree(book.path, ignore_errors=True)
        return status == -9, wrong

    def _loaded_again(self, book: Book) -> list[str]:
        """What was interrupted is handed in again; an earlier file would be going back to it: another thing."""
        if in_child(lambda: self.run(book) if self.name in ON_SITE else self._rest(book)):
            return ["loading again failed"]
        wrong = self._unclean(book, "after loading again")
        if self.told(book) != self.expected:
            wrong.append("the tables differ from those of an undisturbed load")
        return wrong

    def _unclean(self, book: Book, when: str) -> list[str]:
        if not book.exists():
            return []
        found = self._in_child_told(lambda: json.dumps(verify(book).as_json()))
        report = json.loads(found) if found.startswith("{") else {"clean": False, "findings": found}
        return [] if report["clean"] else [f"verify is not clean {when}: {report['findings']}"]

    def _entries_lost(self, book: Book) -> list[str]:
        count = book.path.parent / f"{book.path.name}-saved"
        saved = count.stat().st_size if count.exists() else 0
        if self.name == "site_job":
            events = read_site_job(book, "H-99").events
            told = [event.entry_id for event in events if event.kind != "received"]
            if told != PLAYED[: len(told)] or not saved <= len(told) <= saved + 1:
                return [f"{saved} entries were said to be saved, {len(told)} are there"]
            return []
        journal = read_journal(book, "own/H-01")
        numbers = [entry.values["number"] for entry in journal.entries]
        if numbers != list(range(len(numbers))) or not saved <= len(numbers) <= saved + 1 or len(journal.torn) > 1:
            return [f"{saved} entries were said to be saved, {len(numbers)} are there, torn: {len(journal.torn)}"]
        return []


def void(_: object) -> None:
    """Forget a result."""


def kill_many(kills: int, seed: int, say: Callable[[str], None], scenarios: tuple[str, ...] = SCENARIOS) -> int:
    """Kill so many times, scenario after scenario in turn; the number of kills after which something was wrong."""
    chance = random.Random(seed)
    bad, struck = 0, 0
    started = time.perf_counter()
    with tempfile.TemporaryDirectory(prefix="sludgebook-kills-") as folder:
        trials: dict[str, Trial] = {}
        for number in range(kills):
            name = scenarios[number % len(scenarios)]
            if name not in trials:
                (Path(folder) / name).mkdir()
                trials[name] = Trial(name, Path(folder) / name)
            trial = trials[name]
            by_time, moment = chance.random() < 0.5, chance.random()
            kill = Kill(moment * trial.seconds, None) if by_time else Kill(None, 1 + int(moment * trial.calls))
            in_time, wrong = trial.disturb(number, kill)
            struck += in_time
            bad += bool(wrong)
            for sentence in wrong:
                say(f"kill {number} ({name}, {kill}): {sentence}")
    seconds = time.perf_counter() - started
    say(f"{kills} kills, seed {seed}: {struck} in the midst of work, {bad} left something wrong; {seconds:.0f} s")
    return bad


def main() -> None:
    """Read the arguments, kill, exit with 1 if anything was wrong."""
    warnings.simplefilter("ignore")
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--scenarios", nargs="+", choices=SCENARIOS, default=SCENARIOS)
    arguments = parser.parse_args()
    sys.exit(1 if kill_many(arguments.kills, arguments.seed, say, tuple(arguments.scenarios)) else 0)


def say(line: str) -> None:
    """A line to whoever runs this."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
