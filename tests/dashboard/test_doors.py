"""The dashboard answers under its own names and to its own pages; the server itself asks nobody anything."""

from __future__ import annotations

import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

PATIENCE_S = 120.0
HOOKED = """
import sys, json
from pathlib import Path
log = open(sys.argv[3], "a", buffering=1)
def hear(event, given):
    if event in ("socket.connect", "socket.sendto"):
        address = given[1]
    elif event in ("socket.getaddrinfo", "socket.gethostbyname"):
        address = given
    else:
        return
    host = str(address[0]) if isinstance(address, tuple) else str(address)
    if host not in ("127.0.0.1", "::1", "localhost", "None", "0.0.0.0"):
        log.write(json.dumps([event, host]) + chr(10))
sys.addaudithook(hear)
from dashboard.cli.serve import serve
serve(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[4], open_browser=False)
"""
"""The dashboard, every address outside this machine that it connects to or looks up written down."""


@pytest.fixture(scope="module", params=["127.0.0.1", "0.0.0.0"])
def served(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, Path]]:
    """The port of a dashboard over an empty book, and the file in which what it asks outside stands."""
    folder = tmp_path_factory.mktemp("doors")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = [sys.executable, "-c", HOOKED, str(folder / "book"), str(port), str(folder / "asked"), request.param]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    began = time.monotonic()
    while not answers(port):
        assert time.monotonic() - began < PATIENCE_S, "the dashboard does not answer"
        time.sleep(0.2)
    yield port, folder / "asked"
    os.kill(process.pid, signal.SIGTERM)
    process.wait(timeout=PATIENCE_S)


def answers(port: int) -> bool:
    try:
        return asked(port, "/_stcore/health", Host=f"127.0.0.1:{port}")[0] == 200
    except OSError:
        return False


def asked(port: int, path: str, method: str = "GET", **headers: str) -> tuple[int, str]:
    """Status and body of a request whose headers are these and no others."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=30)) as connection:
        connection.putrequest(method, path, skip_host=True)
        for name, value in headers.items():
            connection.putheader(name, value)
        connection.endheaders()
        with closing(connection.getresponse()) as answer:
            return answer.status, answer.read().decode("utf-8", "replace")


def socket_status(port: int, host: str, origin: str) -> int:
    """Status with which the handshake of a socket is answered: 101 where it is opened."""
    key = {"Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Sec-WebSocket-Version": "13"}  # RFC 6455, 1.3
    given = {"Host": host, "Upgrade": "websocket", "Connection": "Upgrade", **key, "Origin": origin}
    lines = ["GET /_stcore/stream HTTP/1.1", *(f"{name}: {value}" for name, value in given.items()), "", ""]
    with socket.create_connection(("127.0.0.1", port), timeout=30) as connection:
        connection.sendall("\r\n".join(lines).encode())
        return int(connection.recv(64).split()[1])


def test_pages_are_given_out_under_own_names_only(served: tuple[int, Path]) -> None:
    port, _ = served
    own = [asked(port, "/", Host=f"{name}:{port}")[0] for name in ("127.0.0.1", "localhost", "LOCALHOST.", "[::1]")]
    foreign = [
        asked(port, "/", Host=name)
        for name in (f"evil.example:{port}", f"localhost.evil.example:{port}", "", f"x@localhost:{port}", "localhost:x")
    ]

    assert own == [200] * 4
    assert [status for status, _ in foreign] == [421] * 5
    assert all("Sludgebook" not in body and "streamlit" not in body.lower() for _, body in foreign)


def test_files_and_sockets_are_taken_from_own_pages_only(served: tuple[int, Path]) -> None:
    port, _ = served
    host = f"127.0.0.1:{port}"
    pages = (
        f"http://{host}",
        f"http://127.0.0.1:{port + 1}",
        f"http://localhost:{port}",
        "http://evil.example",
        "null",
    )
    sockets = [socket_status(port, host, page) for page in pages]
    uploads = [asked(port, "/_stcore/upload_file/a/b", "PUT", Host=host, Origin=page)[0] for page in pages[1:]]
    rebound = socket_status(port, f"evil.example:{port}", f"http://evil.example:{port}")

    assert sockets == [101, 403, 403, 403, 403]
    assert uploads == [403] * 4
    assert rebound == 403


def test_the_server_looks_nothing_up_and_connects_to_nobody(served: tuple[int, Path]) -> None:
    port, log = served
    for name in ("evil.example", "192.0.2.7", "[2001:db8::7]"):  # documentation addresses: RFC 5737, RFC 3849
        socket_status(port, f"127.0.0.1:{port}", f"http://{name}")
        asked(port, "/_stcore/health", Host=f"{name}:{port}", Origin=f"http://{name}:{port}")
    here = socket.gethostname().lower()
    found = [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []

    assert [each for each in found if each[1].lower() != here] == []


def test_what_is_given_out_may_fetch_nothing_elsewhere_and_stand_in_no_frame(served: tuple[int, Path]) -> None:
    port, _ = served
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=30) as answer:
        policy = str(answer.headers["Content-Security-Policy"])

    rules = dict(rule.strip().partition(" ")[::2] for rule in policy.split(";"))
    assert "http" not in policy
    assert "*" not in policy
    assert rules["frame-ancestors"] == "'self'"
    assert rules["connect-src"].split()[:2] == ["'self'", f"ws://127.0.0.1:{port}"]
