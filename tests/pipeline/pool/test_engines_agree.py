"""Every core and feature table is the same, row by row and digit by digit, whichever engine worked it out."""

from __future__ import annotations

import json
import subprocess
import sys

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.build import STEPS
from pipeline.contract import BUILT
from pipeline.contract.findings import SludgebookError
from pipeline.pool.build_pool import build_pool
from pipeline.pool.connect import OnServer
from pipeline.pool.lake import Lake
from pipeline.pool.translate import spark_step
from pipeline.store.book import read_arrow
from tests.pipeline.pool.conftest import Pool


def table(lake: Lake, name: str) -> pl.DataFrame:
    return pl.DataFrame(read_arrow(lake.book.current(), name)).sort(list(BUILT[name].key))


@pytest.fixture(scope="module")
def on_server(pool: Pool, server: str, tmp_path_factory: pytest.TempPathFactory) -> Lake:
    """The same firms' rows, worked out on the server."""
    import shutil

    lake = Lake(tmp_path_factory.mktemp("served") / "lake")
    lake.create()
    shutil.copytree(pool.lake.firms, lake.firms, dirs_exist_ok=True)
    built = build_pool(lake, OnServer(server))
    assert built.worked_out == len(list(lake.firms.iterdir()))
    return lake


@pytest.mark.parametrize("name", BUILT)
def test_a_table_is_the_same_in_this_process_and_on_a_server(pool: Pool, on_server: Lake, name: str) -> None:
    here, there = table(pool.lake, name), table(on_server, name)

    assert_frame_equal(here, there, check_exact=True)


def test_the_command_builds_on_a_server_from_a_process_of_its_own(own_pool: Lake, server: str) -> None:
    """What the client finds already loaded in this process it must not need there."""
    command = "from dashboard.cli.main import main; main()"
    words = ["pool", "build", str(own_pool.path), "--engine", server, "--anew", "--json"]
    done = subprocess.run([sys.executable, "-c", command, *words], capture_output=True, text=True, timeout=120)

    assert (done.returncode, json.loads(done.stdout)["findings"]) == (0, [])
    assert json.loads(done.stdout)["worked_out"] == json.loads(done.stdout)["firms"]


@pytest.mark.parametrize("step", STEPS)
def test_every_file_carries_over(step: str) -> None:
    one = spark_step(step)

    assert one.table == step.rpartition("/")[2]
    assert one.select.upper().startswith(("SELECT", "WITH"))


def test_a_file_that_does_not_carry_over_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.pool.translate.sql_text", lambda step: "drop table jobs")
    spark_step.cache_clear()

    with pytest.raises(SludgebookError, match=r"core/odd\.sql does not make a table"):
        spark_step("core/odd")
    spark_step.cache_clear()


def test_the_tables_hold_rows_to_be_compared(pool: Pool) -> None:
    """Else the comparison above would compare nothing."""
    empty = [name for name in BUILT if table(pool.lake, name).is_empty()]

    assert empty == []
