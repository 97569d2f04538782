"""Random sequences of loads against a plain account of what must count: `python -m tests.metamorphic.sequences 50`.

Loads add, repeat, correct, move visits, bring rows that wait or that no visit holds, and go back to earlier files. By
the rule of the book the version handed in last counts, so the account needs no more than dictionaries; and after each
sequence `verify` must find the book clean, which compares every renewed table with a whole build.
"""

from __future__ import annotations

import random
import sys
import time
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl

from pipeline.checks.spans import MOMENTS
from pipeline.contract import JOB_LOG
from pipeline.intake.load import load
from pipeline.store.book import Book, read_arrow
from pipeline.verify.verify_book import verify
from tests.metamorphic.handing_in import as_csv
from tests.metamorphic.worlds import World, make_world

Key = tuple[str, ...]
Row = dict[str, str]


@dataclass
class Account:
    """Every version of every row in the order handed in, by table and key."""

    versions: dict[str, dict[Key, list[Row]]] = field(default_factory=lambda: {name: {} for name in JOB_LOG})

    def take(self, part: World) -> None:
        """Note one load."""
        for name, rows in part.items():
            for row in rows.iter_rows(named=True):
                self.versions[name].setdefault(tuple(row[column] for column in JOB_LOG[name].key), []).append(row)

    def counting(self, name: str) -> dict[Key, Row]:
        """The rows of a table that must count now: the last version that its job's last visit holds."""
        jobs = {key: found[-1] for key, found in self.versions["jobs"].items()}
        if name == "jobs":
            return jobs
        kept = {}
        for key, found in self.versions[name].items():
            job = jobs.get(key[:2])
            inside = [row for row in found if job is not None and _holds(job, row, MOMENTS.get(name))]
            if inside:
                kept[key] = inside[-1]
        return kept


def _holds(job: Row, row: Row, moment: str | None) -> bool:
    if moment is None:
        return True
    on_day = date.fromisoformat(row[moment][:10])
    last = datetime.fromisoformat(job["flush_ended_at"]).date() if moment != "called_back_on" else date.max
    return date.fromisoformat(job["visit_date"]) <= on_day <= last


def random_loads(seed: int, count: int) -> list[World]:
    """Loads made from one world; a load that stands twice in the list is the same object, handed in again."""
    chance = random.Random(seed)
    world = make_world(seed, jobs=10)
    loads = [_some(world, chance, share=0.7)]
    while len(loads) < count:
        if chance.random() < 0.35:
            loads.append(chance.choice(loads))
        else:
            part = _some(world, chance, share=chance.choice([0.15, 0.4]))
            loads.append(_changed(part, chance) if chance.random() < 0.7 else part)
    return loads


def _some(world: World, chance: random.Random, share: float) -> World:
    """Some rows of some tables: jobs without their rows, rows without their jobs."""
    names = [name for name in world if chance.random() < 0.8] or ["jobs"]
    part = {name: world[name].sample(fraction=share, seed=chance.randrange(999), shuffle=True) for name in names}
    return {name: rows for name, rows in part.items() if rows.height} or {"jobs": world["jobs"][:1]}


def _changed(part: World, chance: random.Random) -> World:
    """The same with masses corrected, and the visit of its first job moved by some weeks or a year."""
    part = dict(part)
    if "catches" in part:
        masses = [f"{chance.uniform(20, 400):.1f}" for _ in range(part["catches"].height)]
        part["catches"] = part["catches"].with_columns(pl.Series("mass_g", masses))
    if "jobs" in part:
        by = timedelta(days=chance.choice([1, 40, 365]))
        rows = part["jobs"].to_dicts()
        times = ("visit_date", "flush_started_at", "flush_ended_at", "followed_until")
        for name, value in ((name, rows[0][name]) for name in times if rows[0][name]):
            moved = datetime.fromisoformat(value) + by
            rows[0][name] = str(moved.date()) if len(value) == 10 else moved.isoformat()
        part["jobs"] = pl.DataFrame(rows, schema=part["jobs"].schema)
    return part


def faults_of_sequence(seed: int, folder: Path, count: int) -> list[str]:
    """What is wrong after one sequence of loads; empty where the book is clean and holds what it must."""
    book, account = Book(folder / "book"), Account()
    written: dict[int, Path] = {}
    for number, part in enumerate(random_loads(seed, count)):
        path = written.get(id(part)) or as_csv(part, folder / f"load{number}")
        written[id(part)] = path
        load([path], book)
        account.take(part)
    wrong = [name for name in JOB_LOG if _standing(book, name) != _expected(account, name)]
    return [*(f"{name} is not what was handed in last" for name in wrong), *(f.sentence for f in verify(book).findings)]


_PROOF = {"jobs": "visit_date", "catches": "mass_g"}
"""A column that corrections change."""


def _standing(book: Book, name: str) -> dict[Key, str]:
    rows = pl.DataFrame(read_arrow(book.current(), name))
    return {
        tuple(_text(row[column]) for column in JOB_LOG[name].key): _text(row.get(_PROOF.get(name, "")))
        for row in rows.iter_rows(named=True)
    }


def _expected(account: Account, name: str) -> dict[Key, str]:
    return {key: row.get(_PROOF.get(name, ""), "") for key, row in account.counting(name).items()}


def _text(value: object) -> str:
    return value.isoformat() if isinstance(value, date) else "" if value is None else str(value)


def main(count: int, first: int = 1) -> int:
    """Run sequences and say what was wrong; the exit status."""
    started, bad = time.perf_counter(), 0
    for seed in range(first, first + count):
        with TemporaryDirectory() as folder:
            faults = faults_of_sequence(seed, Path(folder), count=5)
        bad += bool(faults)
        for fault in faults:
            sys.stdout.write(f"sequence {seed}: {fault}\n")
    seconds = time.perf_counter() - started
    sys.stdout.write(f"{count - bad} of {count} sequences clean ({seconds:.0f} s)\n")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 50, int(sys.argv[2]) if len(sys.argv) > 2 else 1))
