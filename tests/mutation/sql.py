"""Plant one fault at a time in a SQL file and see whether a test notices: `python -m tests.mutation.sql [FILE ...]`.

Prints the score by file and the mutants that no test killed. FILE is such as `core/jobs` or `staging`; none means every
file. `--tests PATH` runs other tests than the few-row ones, which takes long; `--all` prints every mutant. A first run
of the tests notes which of them ask for which file: those are its judges, the quickest first. Every mutant runs in a
child of one warm process, with the text of the file put in place in memory. Needs the extra `bench`.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import time
import tomllib
from argparse import ArgumentParser
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from pipeline.store import book
from tests.mutation.sql_mutants import Mutant, mutants_of
from tests.pipeline.sql.on_rows import database, schemas

ROOT = Path(__file__).parents[2]
FEW_ROWS = "tests/pipeline/sql"
EQUIVALENT = Path(__file__).with_name("equivalent.toml")
WORKERS, LIMIT_SECONDS = 2, 30
KILLED, SURVIVED, STILLBORN = 1, 0, 3
_ORIGINAL = book.sql_text
_OUT = os.dup(1)  # pytest takes the usual one for itself


def put_in_place(text_of: Callable[[str], str]) -> None:
    """Let every module that asks for a SQL file ask `text_of` from now on."""
    for module in list(sys.modules.values()):
        if callable(getattr(module, "sql_text", None)):
            setattr(module, "sql_text", text_of)  # noqa: B010 - a module's own name, set from outside on purpose


@dataclass
class Judge:
    """Runs tests that pytest has collected, each verdict in a child process."""

    session: pytest.Session
    broken: list[str] = field(default_factory=list)
    is_stillborn: bool = False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.broken.append(f"{report.nodeid}\n{report.longreprtext[-1500:]}")
            refused = ("BinderException", "Binder Error", "ParserException", "Parser Error", "Catalog Error")
            self.is_stillborn = any(word in report.longreprtext for word in refused)

    def run(self, items: list[pytest.Item], stop: bool = True) -> Iterator[pytest.Item]:
        for item in items:
            yield item
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
            if self.broken and stop:
                return

    def judges(self) -> dict[str, list[int]]:
        """SQL file → the places of the tests that ask for it, the quickest first; all tests must pass.

        In a child too: a process in which threads of DuckDB or polars have begun must not be forked.
        """
        read, write = os.pipe()
        if not os.fork():
            asked: dict[str, dict[int, float]] = defaultdict(dict)
            now = [0, time.perf_counter()]

            def noted(name: str) -> str:
                asked[name].setdefault(int(now[0]), 0.0)
                return _ORIGINAL(name)

            put_in_place(noted)
            for number, _ in enumerate(self.run(self.session.items, stop=False)):
                _note_seconds(asked, now, number)
            _note_seconds(asked, now, -1)
            with os.fdopen(write, "w") as file:
                json.dump({"broken": self.broken, "asked": asked, "schemas": schemas()}, file)
            os._exit(0)
        os.close(write)
        with os.fdopen(read) as file:
            told = json.load(file)
        os.wait()
        if told["broken"]:
            pytest.exit("Tests fail before any fault is planted:\n" + "\n".join(told["broken"]), returncode=2)
        schemas.__globals__["_known"].update(told["schemas"])  # not found again by every child
        return {name: sorted(map(int, by), key=lambda n, by=by: by[str(n)]) for name, by in told["asked"].items()}

    def verdict(self, mutant: Mutant, items: list[pytest.Item]) -> int:
        """In a child: run the tests on the faulty text and end with what came of it."""
        signal.alarm(LIMIT_SECONDS)  # a mutant that never ends is ended, and that counts as killed
        put_in_place(lambda name: mutant.text if name == mutant.step else _ORIGINAL(name))
        for _ in self.run(items):
            pass
        return STILLBORN if self.is_stillborn else KILLED if self.broken else SURVIVED


def _note_seconds(asked: dict[str, dict[int, float]], now: list[Any], number: int) -> None:
    for by in asked.values():
        if now[0] in by and not by[now[0]]:
            by[now[0]] = time.perf_counter() - now[1]
    now[:] = [number, time.perf_counter()]


@dataclass(frozen=True, slots=True)
class Plan:
    """Pytest's plugin: collects, then judges mutants instead of running the tests."""

    steps: tuple[str, ...]
    shows_all: bool

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        judge = Judge(session)
        session.config.pluginmanager.register(judge)
        session.config.pluginmanager.unregister(name="terminalreporter")
        database()  # one thread, so that children may go on with it
        judges = judge.judges()
        excused = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8"))
        excused = {step: _of_step(step, excused) for step in self.steps}
        rows = [_judged(judge, step, judges.get(step, []), excused[step], self.shows_all) for step in self.steps]
        killed, counted, equivalent = (sum(column) for column in zip(*rows, strict=True))
        _say(f"{'all':38} {killed:4} of {counted:4} killed ({_share(killed, counted)}), {equivalent} equivalent")
        return True


def _judged(
    judge: Judge, step: str, places: list[int], excused: dict[str, str], shows_all: bool
) -> tuple[int, int, int]:
    """Judge every mutant of one file and print what came of it: killed, counted, equivalent."""
    items = [judge.session.items[place] for place in places]
    mutants = mutants_of(step, _ORIGINAL(step))
    found = dict(_verdicts(judge, mutants, items))
    born = [mutant for mutant in mutants if found[mutant.name] != STILLBORN]
    counted = [mutant for mutant in born if _reason(mutant, excused) is None]
    alive = [mutant for mutant in counted if found[mutant.name] == SURVIVED]
    killed, equivalent = len(counted) - len(alive), len(born) - len(counted)
    _say(
        f"{step:38} {killed:4} of {len(counted):4} killed ({_share(killed, len(counted))}), {equivalent} equivalent,"
        f" {len(mutants) - len(born)} do not run, {len(items)} tests"
    )
    for mutant in mutants if shows_all else alive:
        _say(f"    {('survived', 'killed', '', 'does not run')[found[mutant.name]]:12} {mutant.name}")
    for name in excused:
        meant = [mutant for mutant in born if mutant.name.startswith(name)]
        if not meant:
            _say(f"    no such mutant any more, strike it from {EQUIVALENT.name}: {name}")
        for mutant in (mutant for mutant in meant if found[mutant.name] == KILLED):
            _say(f"    not equivalent, a test kills it: {mutant.name}")
    return killed, len(counted), equivalent


def _of_step(step: str, excused: dict[str, dict[str, str]]) -> dict[str, str]:
    """What is written down for a file; a heading of the list may name several."""
    return {begin: why for names, reasons in excused.items() if step in names.split() for begin, why in reasons.items()}


def _reason(mutant: Mutant, excused: dict[str, str]) -> str | None:
    """Why no test can kill it, if that has been written down: by the begin of its name."""
    return next((reason for begin, reason in excused.items() if mutant.name.startswith(begin)), None)


def _verdicts(judge: Judge, mutants: list[Mutant], items: list[pytest.Item]) -> Iterator[tuple[str, int]]:
    running: dict[int, Mutant] = {}
    waiting = mutants[::-1]
    while waiting or running:
        while waiting and len(running) < WORKERS:
            mutant = waiting.pop()
            child = os.fork()
            if not child:
                _quiet_end(judge, mutant, items)
            running[child] = mutant
        child, status = os.wait()
        ended = running.pop(child)
        yield ended.name, os.waitstatus_to_exitcode(status) if os.WIFEXITED(status) else KILLED


def _quiet_end(judge: Judge, mutant: Mutant, items: list[pytest.Item]) -> None:
    """Judge in a child process and leave it, whatever happens, without coming back."""
    code = KILLED
    try:
        code = judge.verdict(mutant, items)
    finally:
        os._exit(code)


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f} %" if whole else "none"


def _say(line: str) -> None:
    os.write(_OUT, (line + "\n").encode())


def steps_named(names: list[str]) -> tuple[str, ...]:
    """SQL files by name or by folder; every file where none is named."""
    every = [str(path.relative_to(book.SQL_DIR).with_suffix("")) for path in sorted(book.SQL_DIR.rglob("*.sql"))]
    return tuple(step for step in every if not names or any(f"{step}/".startswith(f"{n.rstrip('/')}/") for n in names))


def main() -> int:
    """Judge the files named on the command line; the exit status."""
    parser = ArgumentParser(prog="python -m tests.mutation.sql", description="Plant faults in SQL files.")
    parser.add_argument("files", nargs="*", metavar="FILE")
    parser.add_argument("--tests", action="append", metavar="PATH")
    parser.add_argument("--all", action="store_true")
    chosen = parser.parse_args()
    os.chdir(ROOT)
    options = [
        "-q",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:faulthandler",
        "--capture=fd",
        "--assert=plain",
        "--tb=native",
        "-W",
        "ignore::DeprecationWarning",  # of forking beside threads: there are none in the parent
        *(chosen.tests or [FEW_ROWS]),
    ]
    return int(pytest.main(options, plugins=[Plan(steps_named(chosen.files), chosen.all)]))


if __name__ == "__main__":
    sys.exit(main())
