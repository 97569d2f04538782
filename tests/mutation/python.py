"""Plants small faults in the packages that decide and counts how many the tests that mirror them see.

    python -m tests.mutation.python GROUP... [--sample N] [--seed S] [--longest SECONDS] [--only PART]

A GROUP is one of `GROUPS`, or `all`. N places of it are drawn at random (default 25), a fault at each. The tests run
once without a fault to be timed; then, the quickest first, against each fault, until one fails. Tests that take
longer than SECONDS (default 3) are left out: so the score is that of the quick tests, a little low. `--only` keeps
the modules whose path holds PART. Each fault is planted in a process of its own as it imports the module: no file
changes.

Needs the `bench` extra. Scores, survivors and those that are equivalent: README.md in this folder.
"""

from __future__ import annotations

import argparse
import os
import resource
import signal
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from types import CodeType, ModuleType

from tests.mutation.mutants import ROOT, Mutant, modules_of, mutants, sampled

WARM = (
    "numpy",
    "pandas",
    "scipy.stats",
    "scipy.optimize",
    "sklearn.ensemble",
    "polars",
    "pyarrow",
    "lifelines",
    "crepes",
)
"""Loaded once before the processes part: what takes long to import, and starts no thread."""
MOST_CPU_S = 60


@dataclass(frozen=True, slots=True)
class Group:
    """Modules or folders that decide something, and the tests that mirror them."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]


GROUPS = {
    "pricing": Group(("models/quote/pricing",), ("tests/models/quote/pricing",)),
    "conformal": Group(
        ("models/quote/base/conformal.py",),
        ("tests/models/quote/base/test_conformal.py", "tests/published/test_conformal_law.py"),
    ),
    "effects": Group(
        ("models/practice/effects",),
        ("tests/models/practice", "tests/published/test_practice_statistics.py", "tests/published/test_adjustment.py"),
    ),
    "censoring": Group(("models/practice/cohort/censoring.py",), ("tests/models/practice",)),
    "posterior": Group(("models/catch/posterior",), ("tests/models/catch/posterior", "tests/models/catch/exhaustion")),
    "warnings": Group(("models/catch/warnings",), ("tests/models/catch/warnings",)),
    "checks": Group(("pipeline/checks",), ("tests/pipeline/checks",)),
    "renew": Group(("pipeline/renew.py",), ("tests/pipeline/test_renew.py",)),
    "journal": Group(("pipeline/store/journal.py",), ("tests/pipeline/store",)),
    "mapping": Group(("pipeline/mapping",), ("tests/pipeline/mapping",)),
}


class _Loader(SourceFileLoader):
    def __init__(self, name: str, path: str, planted: str) -> None:
        super().__init__(name, path)
        self._planted = planted

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._planted, self.path, "exec", dont_inherit=True)


class _Planted(MetaPathFinder):
    """Finds one module, with its fault, before any other finder does."""

    def __init__(self, mutant: Mutant) -> None:
        self._name = ".".join(mutant.module.relative_to(ROOT).with_suffix("").parts)
        self._path, self._source = str(mutant.module), mutant.source

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if fullname != self._name:
            return None
        return spec_from_file_location(fullname, self._path, loader=_Loader(fullname, self._path, self._source))


class _QuickestFirst:
    """A pytest plugin: times the tests (`times` empty), or runs those timed, the quickest first."""

    def __init__(self, times: dict[str, float], longest: float) -> None:
        self.times, self.longest, self.timed = times, longest, dict[str, float]()

    def pytest_configure(self) -> None:
        from hypothesis import settings

        settings.register_profile("mutation", deadline=None, derandomize=True, database=None)
        settings.load_profile("mutation")

    def pytest_collection_modifyitems(self, items: list) -> None:  # type: ignore[type-arg]
        if self.times:
            kept = [item for item in items if self.times.get(item.nodeid, 1e9) <= self.longest]
            items[:] = sorted(kept, key=lambda item: self.times[item.nodeid])

    def pytest_runtest_logreport(self, report) -> None:  # type: ignore[no-untyped-def]
        if report.when != "teardown":
            self.timed[report.nodeid] = self.timed.get(report.nodeid, 0.0) + report.duration


def _run(tests: Sequence[str], plugin: _QuickestFirst) -> int:
    import pytest

    arguments = ["-x", "-q", "-p", "no:cacheprovider", "--no-header", "--tb=no", f"--rootdir={ROOT}", *tests]
    return int(pytest.main(arguments, plugins=[plugin]))


def forked(tests: Sequence[str], times: dict[str, float], longest: float, mutant: Mutant | None) -> tuple[int, str]:
    """Exit status of a run in a process of its own, and what it says of its times."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        status = 99
        try:
            if mutant is not None:
                resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S + 5))
                sys.meta_path.insert(0, _Planted(mutant))
            plugin = _QuickestFirst(times, longest)
            status = _run(tests, plugin)
            if mutant is None:
                with os.fdopen(write, "w") as out:
                    out.writelines(f"{seconds}\t{name}\n" for name, seconds in plugin.timed.items())
        finally:
            os._exit(status)
    os.close(write)
    with os.fdopen(read) as told:
        words = told.read()
    return _ended(child), words


def _ended(child: int) -> int:
    """Exit status of a child; one that goes on far beyond its processor time (it sleeps for ever) is ended."""
    since = time.monotonic()
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() - since > 10 * MOST_CPU_S:
            os.kill(child, signal.SIGKILL)
        time.sleep(0.02)


def timed(tests: Sequence[str]) -> dict[str, float]:
    """Seconds of each test without a fault; SystemExit where one fails then."""
    status, words = forked(tests, {}, 0.0, None)
    if status != 0:
        raise SystemExit(f"the tests fail without a fault (pytest says {status}): {' '.join(tests)}")
    return {name: float(seconds) for seconds, name in (line.split("\t", 1) for line in words.splitlines())}


def tried(name: str, sample: int, seed: int, longest: float, only: str = "") -> None:
    """Prints what became of a sample of the faults of a group."""
    group = GROUPS[name]
    modules = [path for path in modules_of(group.modules) if only in str(path)]
    times, places = timed(group.tests), mutants(modules)
    by_module: dict[Path, list[bool]] = {}
    survivors = []
    for mutant in sampled(places, sample, seed):
        is_killed = forked(group.tests, times, longest, mutant)[0] != 0
        by_module.setdefault(mutant.module, []).append(is_killed)
        if not is_killed:
            survivors.append(mutant)
            print(mutant, flush=True)  # noqa: T201
    for module, found in by_module.items():
        print(f"{name:10} {module.relative_to(ROOT)!s:48} {sum(found):3} of {len(found):3} killed")  # noqa: T201
    told = [each for found in by_module.values() for each in found]
    quick = sum(each <= longest for each in times.values())
    print(  # noqa: T201
        f"{name}: {sum(told)} of {len(told)} killed ({100 * sum(told) / max(len(told), 1):.0f} %), drawn from "
        f"{len(places)} places, seed {seed}, {quick} of {len(times)} tests",
        flush=True,
    )


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("group", nargs="+", choices=[*GROUPS, "all"])
    parser.add_argument("--sample", type=int, default=25)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--longest", type=float, default=3.0)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "POLARS_MAX_THREADS"):
        os.environ.setdefault(threads, "1")
    for module in WARM:
        __import__(module)
    for name in GROUPS if "all" in asked.group else asked.group:
        tried(name, asked.sample, asked.seed, asked.longest, asked.only)


if __name__ == "__main__":
    main()
