"""The same tables on Apache Spark: a standalone master and two workers on the loopback, one of them killed once.

Runs where Java and `SPARK_HOME` are found (`.ci/run` installs both); as a study, because a JVM takes its minutes.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.contract import BUILT
from pipeline.pool.build_pool import build_pool
from pipeline.pool.connect import OnServer
from pipeline.pool.lake import Lake
from pipeline.store.book import read_arrow
from tests.pipeline.pool.conftest import Pool

SPARK_HOME = os.environ.get("SPARK_HOME", "")
STARTS_IN_S = 120
FEW = ("spark.sql.shuffle.partitions=2", "spark.executor.memory=768m", "spark.ui.enabled=false")

pytestmark = [
    pytest.mark.study,
    pytest.mark.skipif(not (SPARK_HOME and shutil.which("java")), reason="no Java, or no SPARK_HOME"),
]


@dataclass(frozen=True, slots=True)
class Cluster:
    """The address of the Connect server, and the workers' processes."""

    address: str
    workers: tuple[subprocess.Popen[bytes], ...]


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def wait_for(port: int) -> None:
    until = time.monotonic() + STARTS_IN_S
    while time.monotonic() < until:
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
            return
        except OSError:
            time.sleep(0.5)
    raise AssertionError(f"nothing listens on port {port} after {STARTS_IN_S} s")


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """A master, two workers of one core each and a Connect server; all of them end with the module."""
    folder, here = tmp_path_factory.mktemp("spark"), "127.0.0.1"
    started: list[subprocess.Popen[bytes]] = []
    environment = {**os.environ, "SPARK_LOCAL_IP": here}

    def start(tool: str, *words: str) -> subprocess.Popen[bytes]:
        command = [str(Path(SPARK_HOME) / "bin" / tool), *words]
        with (folder / f"{len(started)}.log").open("wb") as log:
            process = subprocess.Popen(command, env=environment, stdout=log, stderr=log, cwd=folder)
        started.append(process)
        return process

    master, connect = free_port(), free_port()
    deploy = "org.apache.spark.deploy"
    try:
        start("spark-class", f"{deploy}.master.Master", "--host", here, "--port", f"{master}", "--webui-port", "0")
        wait_for(master)
        options = ("-c", "1", "-m", "1g", "--webui-port", "0", f"spark://{here}:{master}")
        workers = tuple(start("spark-class", f"{deploy}.worker.Worker", *options) for _ in range(2))
        settings = [word for each in (*FEW, f"spark.connect.grpc.binding.port={connect}") for word in ("--conf", each)]
        name = "org.apache.spark.sql.connect.service.SparkConnectServer"
        start("spark-submit", "--class", name, "--master", f"spark://{here}:{master}", *settings, "spark-internal")
        wait_for(connect)
        yield Cluster(f"sc://{here}:{connect}", workers)
    finally:
        for process in reversed(started):
            process.kill()
            process.wait()


def copied(pool: Pool, folder: Path) -> Lake:
    lake = Lake(folder)
    lake.create()
    shutil.copytree(pool.lake.firms, lake.firms, dirs_exist_ok=True)
    return lake


def assert_same_tables(found: Lake, wanted: Lake) -> None:
    for name, table in BUILT.items():
        there, here = (
            pl.DataFrame(read_arrow(lake.book.current(), name)).sort(list(table.key)) for lake in (found, wanted)
        )
        assert_frame_equal(there, here, check_exact=True)


def test_every_table_is_the_same_on_spark_with_a_worker_killed_in_the_middle(
    pool: Pool, cluster: Cluster, tmp_path: Path
) -> None:
    whole, hurt = copied(pool, tmp_path / "whole"), copied(pool, tmp_path / "hurt")
    build_pool(whole, OnServer(cluster.address))
    assert_same_tables(whole, pool.lake)

    steps: list[int] = []
    is_half_way = threading.Event()

    def progress(done: int, total: int, step: str) -> None:
        steps.append(done)
        if done > total // 2 and not is_half_way.is_set():
            is_half_way.set()
            cluster.workers[0].kill()

    build_pool(hurt, OnServer(cluster.address), progress)
    assert is_half_way.is_set()
    assert_same_tables(hurt, pool.lake)
