"""The dashboard and the command that serves it end together, whoever ends it and however."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

COMMAND = str(Path(sys.executable).with_name("sludgebook"))
PATIENCE_S = 60.0

pytestmark = pytest.mark.skipif(not hasattr(os, "killpg"), reason="asks for what is left of a group of processes")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(port: int) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2):
            return True
    except (urllib.error.URLError, OSError):
        return False


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def serving(tmp_path: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    """`sludgebook serve` once it answers, the leader of a group of its own."""
    with started([COMMAND, "serve", "--book", str(tmp_path / "book"), "--port", str(port), "--no-browser"], port) as it:
        yield it


@contextmanager
def started(command: list[str], port: int) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, start_new_session=True
    )
    began = time.monotonic()
    while not answers(port):
        assert time.monotonic() - began < PATIENCE_S, "the dashboard does not answer"
        time.sleep(0.1)
    yield process
    if process.poll() is None:
        process.kill()
    process.communicate(timeout=PATIENCE_S)


def is_anything_left(group: int) -> bool:
    """Whether any process of the group lives on; given two seconds to be taken off the system's list."""
    for _ in range(20):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return False
        time.sleep(0.1)
    return True


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 0), (signal.SIGKILL, -signal.SIGKILL)])
def test_a_signal_to_the_command_alone_ends_the_dashboard(
    serving: subprocess.Popen[str], port: int, number: signal.Signals, status: int
) -> None:
    os.kill(serving.pid, number)

    assert serving.wait(timeout=PATIENCE_S) == status
    assert not is_anything_left(serving.pid)
    assert not answers(port)


@pytest.mark.parametrize("seconds", [0.5, *(pytest.param(s, marks=pytest.mark.study) for s in (0.0, 1.0))])
def test_stopped_while_it_reads_ahead_it_ends_as_at_any_other_time(tmp_path: Path, port: int, seconds: float) -> None:
    """Half a second in, most of what it reads ahead is still to come; the study tries the begin and the end of it."""
    begin_at_once = "from dashboard.cli import serve, warm_up; warm_up.PAUSE_SECONDS = 0.0; "
    serve = f"serve.serve(Path({str(tmp_path / 'book')!r}), {port}, open_browser=False)"
    with started([sys.executable, "-c", f"from pathlib import Path; {begin_at_once}{serve}"], port) as process:
        time.sleep(seconds)
        os.kill(process.pid, signal.SIGTERM)

        assert process.wait(timeout=PATIENCE_S) == 0
        assert "Traceback" not in process.communicate()[0]


def test_it_tells_where_it_is_and_nothing_for_programmers_and_ends_when_asked_to(
    serving: subprocess.Popen[str], port: int
) -> None:
    os.kill(serving.pid, signal.SIGTERM)
    book, address = filter(None, serving.communicate(timeout=PATIENCE_S)[0].splitlines())
    assert serving.returncode == 0
    assert not is_anything_left(serving.pid)
    assert not answers(port)

    assert book.startswith("The book is ")
    assert "Ctrl+C" in book
    assert address == f"Open http://127.0.0.1:{port}"


def test_a_port_in_use_is_said_in_a_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        command = [COMMAND, "serve", "--book", str(tmp_path), "--port", str(taken.getsockname()[1]), "--no-browser"]
        done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, check=False)

    assert done.returncode == 2
    assert "sludgebook: The dashboard cannot listen on 127.0.0.1 port" in done.stderr
    assert "in use" in done.stderr
    assert "Traceback" not in done.stderr
