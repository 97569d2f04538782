"""Two open jobs in a book, and the phone's routes behind the doorkeeper, asked without a network."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware

from dashboard.doors import OwnPagesOnly
from dashboard.phone.routes import ROUTES
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.open_job import SiteJob, read_site_job
from pipeline.store.book import Book

JOBS = ("Mill Lane", "Firth/Quay 2")
HOST = "localhost:8501"


@dataclass(frozen=True, slots=True)
class Got:
    """Status, headers and body of an answer."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


def ask(path: str, method: str = "GET", body: bytes = b"", **headers: str) -> Got:
    """One request to the routes, behind the doorkeeper."""
    app = Starlette(routes=ROUTES, middleware=[Middleware(OwnPagesOnly)])
    given = {"host": HOST, **{name.replace("_", "-"): value for name, value in headers.items()}}
    scope = {
        "type": "http",
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "headers": [(name.encode(), value.encode()) for name, value in given.items() if value],
        "server": ("localhost", 8501),
        "scheme": "http",
    }
    sent: list[Any] = []
    parts = [body[at : at + 50_000] for at in range(0, len(body), 50_000)] or [b""]
    heard = iter([{"type": "http.request", "body": p, "more_body": n < len(parts) - 1} for n, p in enumerate(parts)])

    async def receive() -> Any:
        return next(heard, {"type": "http.disconnect"})

    async def send(message: Any) -> None:
        sent.append(message)

    with ThreadPoolExecutor(1) as pool:  # a browser's test in the same process has a loop of its own
        pool.submit(asyncio.run, app(scope, receive, send)).result()
    first, *rest = sent
    return Got(
        first["status"],
        {name.decode().lower(): value.decode() for name, value in first["headers"]},
        b"".join(part.get("body", b"") for part in rest),
    )


def entry(entry_id: str, kind: str = "catch", job: str = JOBS[0], ago_min: float = 0.0, **of: Any) -> dict[str, Any]:
    """An entry as a phone sends it, made so long ago by a clock that is right."""
    facts = of or {"mass_g": 180.0, "trap": "magnet", "weighed": "wet"}
    at = (time.time() - 60 * ago_min) * 1000
    return {"id": entry_id.ljust(8, "-"), "job": job, "kind": kind, "of": facts, "at_ms": at}


def send(*entries: Any, device: str = "phone1", ahead_s: float = 0.0, **headers: str) -> Got:
    """The entries as one phone sends them, its clock ahead by so much."""
    moved = [
        {**e, "at_ms": e["at_ms"] + 1000 * ahead_s} if isinstance(e, dict) and e.get("at_ms") else e for e in entries
    ]
    body = {"device": device, "clock_ms": (time.time() + ahead_s) * 1000, "entries": moved}
    given = {"content_type": "application/json", "origin": f"http://{HOST}", **headers}
    return ask("/phone/entries", "POST", json.dumps(body).encode(), **given)


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Book:
    """A book with two jobs that began an hour ago, each with three radiators, one of them named."""
    book = Book(tmp_path / "book")
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(book.path))
    began = datetime.now().replace(microsecond=0) - timedelta(hours=1)
    emitters = [{"emitter_no": 1, "room": "Kitchen", "emitter_kind": "panel_22"}, {"emitter_no": 2}, {"emitter_no": 3}]
    for name in JOBS:
        facts = {"job": {"system_type": "sealed"}, "emitters": emitters, "flush_started_at": began}
        record(book, name, "start", facts, Sender(f"start {name}"), now=began)
    return book


@pytest.fixture
def job_of(site: Book) -> Callable[[str], SiteJob]:
    """A job as the book has it now."""
    return lambda name: read_site_job(site, name)
