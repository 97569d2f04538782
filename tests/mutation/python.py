"""Plants small faults in the packages that decide and counts how many the tests that mirror them see.

    python -m tests.mutation.python GROUP... [--sample N] [--seed S] [--longest SECONDS] [--only PART]

A GROUP is one of `GROUPS`, or `all`. N places of it are drawn at random (default 25), a fault at each. The tests are
collected once and run once without a fault to be timed; then, the quickest first, against each fault, until one
fails. Tests that take longer than SECONDS of the processor (default 3) are left out: so the score is that of the
quick tests, a little low. `--only` keeps the modules whose path holds PART. For each fault a process parts from the one
that has collected; a fault within a function is put into that function's code, one outside is planted in a new Python
as it imports the module. No file changes.

Needs the `bench` extra. Scores, survivors and those that are equivalent: README.md in this folder.
"""

from __future__ import annotations

import argparse
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

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
        (
            *(f"tests/models/practice/test_{name}.py" for name in ("effect_parts", "effect_edges", "estimators")),
            *(f"tests/models/practice/test_{name}.py" for name in ("doses_by_hand", "all_follow_up", "two_estimates")),
            *(f"tests/models/practice/test_{name}.py" for name in ("parts", "survival", "verdicts")),
            "tests/published/test_practice_statistics.py",
            "tests/published/test_adjustment.py",
        ),
    ),
    "censoring": Group(
        ("models/practice/cohort/censoring.py",),
        ("tests/models/practice/test_estimators.py", "tests/models/practice/test_survival.py"),
    ),
    "posterior": Group(("models/catch/posterior",), ("tests/models/catch/posterior", "tests/models/catch/exhaustion")),
    "warnings": Group(("models/catch/warnings",), ("tests/models/catch/warnings",)),
    "checks": Group(
        ("pipeline/checks",),
        (
            *(f"tests/pipeline/checks/test_{name}.py" for name in ("check_rows", "quick_check", "row_edges")),
            *(f"tests/pipeline/checks/test_{name}.py" for name in ("check_edges", "row_warnings", "both_ways")),
            *(f"tests/pipeline/intake/test_{name}.py" for name in ("load", "two_files", "reject_workbook")),
            "tests/pipeline/intake/test_load_foreign.py",
        ),
    ),
    "renew": Group(("pipeline/renew.py",), ("tests/pipeline/test_renew.py", "tests/pipeline/intake/test_two_files.py")),
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


class _Collected:
    """A pytest plugin: once the tests are collected, forks for each fault and runs them, the quickest first."""

    def __init__(self, name: str, drawn: Sequence[Mutant], longest: float) -> None:
        self.name, self.drawn, self.longest = name, drawn, longest
        self.seconds: dict[str, float] = {}
        self.has_failed = False
        self.killed: list[bool] = []

    def pytest_configure(self) -> None:
        from hypothesis import settings

        settings.register_profile("mutation", deadline=None, derandomize=True, database=None)
        settings.load_profile("mutation")

    def pytest_runtest_logreport(self, report) -> None:  # type: ignore[no-untyped-def]
        self.has_failed |= report.failed

    def pytest_runtestloop(self, session) -> bool:  # type: ignore[no-untyped-def]
        status, words = forked(lambda: self._run(session.items, until_one_fails=False))
        if status != 0:
            raise SystemExit(f"the tests of {self.name} fail without a fault")
        times = {name: float(seconds) for seconds, name in (line.split("\t", 1) for line in words.splitlines())}
        quick = [item for item in session.items if times[item.nodeid] <= self.longest]
        quick.sort(key=lambda item: times[item.nodeid])
        print(f"{self.name}: {len(quick)} of {len(times)} tests", flush=True)  # noqa: T201
        for mutant in self.drawn:
            if mutant.is_in_function:
                is_killed = forked(lambda: self._with(mutant, quick), MOST_CPU_S)[0] != 0  # noqa: B023
            else:
                is_killed = forked(lambda: _afresh(mutant, quick), MOST_CPU_S)[0] != 0  # noqa: B023
            self.killed.append(is_killed)
            if not is_killed:
                print(mutant, flush=True)  # noqa: T201
        return True

    def _run(self, items: Sequence, *, until_one_fails: bool) -> tuple[int, str]:  # type: ignore[type-arg]
        for item, following in zip(items, [*items[1:], None], strict=True):
            before = time.process_time()  # other programs on the machine must not make a test look slow
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            self.seconds[item.nodeid] = time.process_time() - before
            if self.has_failed and until_one_fails:
                break
        return int(self.has_failed), "".join(f"{seconds}\t{name}\n" for name, seconds in self.seconds.items())

    def _with(self, mutant: Mutant, items: Sequence) -> tuple[int, str]:  # type: ignore[type-arg]
        put_in_place(mutant)
        return self._run(items, until_one_fails=True)


def put_in_place(mutant: Mutant) -> None:
    """Give the functions of the module, whoever has imported them, the code that they have with the fault."""
    name = ".".join(mutant.module.relative_to(ROOT).with_suffix("").parts)
    if name not in sys.modules:
        __import__(name)
    spec = spec_from_file_location(name, mutant.module, loader=_Loader(name, str(mutant.module), mutant.source))
    assert spec is not None
    assert spec.loader is not None
    planted, standing = module_from_spec(spec), sys.modules[name]
    sys.modules[name] = planted  # where dataclasses look for their module
    spec.loader.exec_module(planted)
    sys.modules[name] = standing
    made = _functions(planted, str(mutant.module))
    for path, function in _functions(standing, str(mutant.module)).items():
        function.__code__ = made[path].__code__
        function.__defaults__, function.__kwdefaults__ = made[path].__defaults__, made[path].__kwdefaults__


def _functions(module: ModuleType, file: str) -> dict[str, FunctionType]:
    """The functions and methods that a module defines, by their path in it."""
    found = {}
    places = [(name, value) for name, value in vars(module).items()]
    for name, value in places:
        if isinstance(value, type) and value.__module__ == module.__name__:
            places += [(f"{name}.{inner}", each) for inner, each in vars(value).items()]
        function = value.fget if isinstance(value, property) else getattr(value, "__func__", value)
        function = getattr(function, "__wrapped__", function)
        if isinstance(function, FunctionType) and function.__code__.co_filename == file:
            found[name] = function
    return found


def _afresh(mutant: Mutant, items: Sequence) -> tuple[int, str]:  # type: ignore[type-arg]
    """The same tests in a new Python that imports the module with its fault: for what is worked out at import."""
    names = [item.nodeid for item in items]
    told = subprocess.run([sys.executable, "-c", _AFRESH, *mutant.key, *names], cwd=ROOT, check=False)
    return told.returncode, ""


_AFRESH = """
import sys
from tests.mutation.python import run_planted
sys.exit(run_planted(sys.argv[1:]))
"""


def run_planted(arguments: Sequence[str]) -> int:
    """Run tests with a fault planted as its module is imported. `arguments`: the key of the fault, then the tests."""
    import pytest

    sys.meta_path.insert(0, _Planted(Mutant.of_key(arguments[:5])))
    return int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", f"--rootdir={ROOT}", *arguments[5:]]))


def forked(work: Callable[[], tuple[int, str]], most_cpu_s: int = 0) -> tuple[int, str]:
    """Exit status and words of work done in a process of its own, in silence."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        status = 99
        try:
            silent = os.open(os.devnull, os.O_WRONLY)
            os.dup2(silent, 1)
            os.dup2(silent, 2)
            if most_cpu_s:
                resource.setrlimit(resource.RLIMIT_CPU, (most_cpu_s, most_cpu_s + 5))
            status, words = work()
            with os.fdopen(write, "w") as out:
                out.write(words)
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


def tried(name: str, sample: int, seed: int, longest: float, only: str = "") -> None:
    """Prints what became of a sample of the faults of a group."""
    import pytest

    group = GROUPS[name]
    places = mutants([path for path in modules_of(group.modules) if only in str(path)])
    plugin = _Collected(name, sampled(places, sample, seed), longest)
    arguments = ["-s", "-p", "no:cacheprovider", "-p", "no:terminal", f"--rootdir={ROOT}", *group.tests]
    pytest.main(arguments, plugins=[plugin])
    by_module: dict[Path, list[bool]] = {}
    for mutant, is_killed in zip(plugin.drawn, plugin.killed, strict=True):
        by_module.setdefault(mutant.module, []).append(is_killed)
    for module, found in by_module.items():
        print(f"{name:10} {module.relative_to(ROOT)!s:48} {sum(found):3} of {len(found):3} killed")  # noqa: T201
    killed, drawn = sum(plugin.killed), len(plugin.killed)
    print(  # noqa: T201
        f"{name}: {killed} of {drawn} killed ({100 * killed / max(drawn, 1):.0f} %), drawn from {len(places)} places, "
        f"seed {seed}",
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
