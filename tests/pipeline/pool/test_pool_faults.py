"""What goes wrong with a pool costs a sentence; the build before stays readable, and the next run completes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from filelock import FileLock

from pipeline.build import BuildError
from pipeline.contract.findings import SludgebookError
from pipeline.pool.build_pool import build_pool
from pipeline.pool.connect import OnServer
from pipeline.pool.engines import InProcess
from pipeline.pool.lake import PART_FILE, Lake, Part
from pipeline.store.book import read_table
from tests.pipeline.pool.conftest import Pool


def jobs_of(lake: Lake) -> int:
    return len(read_table(lake.book.current(), "jobs"))


def a_part(lake: Lake) -> Part:
    parts, _ = lake.newest_parts()
    return parts[0]


def test_a_server_that_is_not_there_is_told_and_the_build_before_stays(own_pool: Lake) -> None:
    before = jobs_of(own_pool)

    with pytest.raises(SludgebookError, match=r"sc://127\.0\.0\.1:9 does not answer"):
        build_pool(own_pool, OnServer("sc://127.0.0.1:9"), anew=True)
    assert jobs_of(own_pool) == before
    assert [path.name for path in own_pool.tables.iterdir() if path.name.startswith(".")] == []


def test_an_address_that_is_none_is_told() -> None:
    with pytest.raises(SludgebookError, match="write sc://HOST:PORT"):
        OnServer("http://cluster:15002")


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda part: (part / "catches.parquet").unlink(), "catches.parquet is missing"),
        (lambda part: os.truncate(part / "jobs.parquet", 100), "jobs.parquet has 100 bytes of"),
        (lambda part: (part / PART_FILE).unlink(), "the list of its files is missing"),
    ],
)
def test_a_firm_half_copied_is_left_out_and_named(own_pool: Lake, spoil: object, said: str) -> None:
    part = a_part(own_pool)
    spoil(part.folder)  # type: ignore[operator]
    built = build_pool(own_pool, InProcess())

    assert [finding.code for finding in built.findings] == ["firm_left_out"]
    assert said in built.findings[0].sentence
    assert part.firm in built.findings[0].sentence
    assert part.firm not in set(read_table(own_pool.book.current(), "jobs")["firm_id"])


def test_rows_of_another_contract_are_refused(own_pool: Lake) -> None:
    (own_pool.path / "pool.json").write_text(json.dumps({"contract": 1}), encoding="utf-8")

    with pytest.raises(SludgebookError, match="holds rows of contract 1"):
        build_pool(own_pool, InProcess())


def test_two_builds_at_once_are_one_after_the_other(own_pool: Lake, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.pool.lake.LOCK_SECONDS", 0.1)

    with FileLock(own_pool.path / ".lock"), pytest.raises(SludgebookError, match="Another command writes the pool"):
        build_pool(own_pool, InProcess())


class Full(InProcess):
    """An engine whose disk takes no more after the first table."""

    def run(self, parts: tuple[Part, ...], firm: object, out: Path, progress: object = None) -> None:
        (out / "jobs").mkdir()
        raise OSError(28, "No space left on device")


class Faulty(InProcess):
    """An engine that fails in a step."""

    def run(self, parts: tuple[Part, ...], firm: object, out: Path, progress: object = None) -> None:
        raise BuildError("core/jobs", RuntimeError("worker lost"))


@pytest.mark.parametrize(
    ("engine", "said"), [(Full(), "cannot be written"), (Faulty(), "failed in core/jobs.sql: worker lost")]
)
def test_a_build_that_fails_leaves_the_one_before_and_nothing_else(
    own_pool: Lake, engine: InProcess, said: str
) -> None:
    before, tables = jobs_of(own_pool), sorted(path.name for path in own_pool.tables.iterdir())

    with pytest.raises(SludgebookError, match=said):
        build_pool(own_pool, engine, anew=True)
    assert jobs_of(own_pool) == before
    assert sorted(path.name for path in own_pool.tables.iterdir()) == tables


BUILD = "import sys; from pathlib import Path; from pipeline.pool import build_pool as b, engines as e, lake as l; "
BUILD += "b.build_pool(l.Lake(Path(sys.argv[1])), e.InProcess(), anew=True)"


def kill_builds(lake: Lake, kills: int) -> None:
    """Kill a build at so many moments spread over its time, each time reading what is there; then let one finish."""
    before, began = jobs_of(lake), time.monotonic()
    subprocess.run([sys.executable, "-c", BUILD, str(lake.path)], check=True, timeout=120)
    whole_s = time.monotonic() - began
    for number in range(1, kills + 1):
        with subprocess.Popen([sys.executable, "-c", BUILD, str(lake.path)]) as build:
            time.sleep(whole_s * number / (kills + 1))
            build.kill()
        assert jobs_of(lake) == before
    assert build_pool(lake, InProcess(), anew=True).jobs == before
    assert jobs_of(lake) == before
    assert [path.name for path in lake.tables.iterdir() if path.name.startswith(".")] == []


def test_a_build_that_is_killed_leaves_the_one_before(own_pool: Lake) -> None:
    kill_builds(own_pool, 2)


@pytest.mark.study
def test_a_build_killed_at_any_point_leaves_the_one_before(own_pool: Lake) -> None:
    kill_builds(own_pool, 40)


def test_the_pool_is_read_like_a_book(pool: Pool) -> None:
    """Tables have their comments, and a name that is none is told with those that there are."""
    with pytest.raises(SludgebookError, match=r"There is no table 'nothing'; there are .*ftr_quote"):
        read_table(pool.lake.book.current(), "nothing")
