"""What the phone asks of the server: the page, the open jobs, the state of one, and to take its entries.

They stand behind the same doorkeeper as the dashboard (`dashboard.doors`). Every answer that is not a file is JSON; an
error is one sentence. Work on the book runs in threads, beside the loop that serves everybody.
"""

from __future__ import annotations

import json
import os
from collections.abc import Awaitable, Callable
from dataclasses import asdict
from datetime import datetime
from functools import wraps
from pathlib import Path
from typing import Any, NoReturn

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from dashboard import fault_log
from dashboard.phone.files import PAGE, page_files
from models.refusals import Refusal
from pipeline.contract.findings import BadInput, SludgebookError

MAX_BODY_BYTES = 256_000
"""Some 200 entries of the longest kind."""
_NOT_KEPT = {"cache-control": "no-store"}
Handler = Callable[[Request], Awaitable[Response]]


class TooLarge(BadInput):
    """More was sent than is taken at once."""


class NotThere(BadInput):
    """There is no such job, or no such file."""


STATUS: dict[type[SludgebookError], int] = {TooLarge: 413, NotThere: 404, BadInput: 400}


def told(handler: Handler) -> Handler:
    """A handler whose every error is one sentence as JSON; what nobody foresaw is written down in the book."""

    @wraps(handler)
    async def answered(request: Request) -> Response:
        try:
            return await handler(request)
        except SludgebookError as problem:
            status = next((STATUS[kind] for kind in type(problem).__mro__ if kind in STATUS), 503)
            return _sentence(problem.sentence, status)
        except Exception as fault:  # the phone holds on to what it sent, and says this
            where = await run_in_threadpool(_write_down, fault, request.url.path)
            kept = f" It is written down in {where}." if where else ""
            return _sentence(f"The server met a fault of its own; entries stay on the phone.{kept}", 500)

    return answered


def _write_down(fault: BaseException, what: str) -> Path | None:
    folder = os.environ.get("SLUDGEBOOK_BOOK", "").strip()
    return fault_log.write_down(Path(folder), f"phone: {what}", fault) if folder else None


def _sentence(sentence: str, status: int) -> Response:
    return JSONResponse({"sentence": sentence}, status, headers=_NOT_KEPT)


def _json(values: dict[str, Any]) -> Response:
    """Values with each time as milliseconds since 1970, which a phone in any zone reads alike."""
    return JSONResponse(_plain({**values, "server_ms": datetime.now()}), headers=_NOT_KEPT)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return round(value.timestamp() * 1000) if isinstance(value, datetime) else value


@told
async def page_file(request: Request) -> Response:
    """A file of the page, compressed where the browser takes that; asked again, it is fetched only if it changed."""
    file = page_files().get(request.path_params.get("file", PAGE))
    if file is None:
        raise NotThere("The phone's page has no such file.")
    headers = {"cache-control": "no-cache", "etag": file.mark, "vary": "Accept-Encoding", "content-type": file.type}
    if request.headers.get("if-none-match") == file.mark:
        return Response(status_code=304, headers=headers)
    if "gzip" in request.headers.get("accept-encoding", ""):
        return Response(file.compressed, headers={**headers, "content-encoding": "gzip"})
    return Response(file.plain, headers=headers)


async def with_slash(_: Request) -> Response:
    """The page's own address, so that its files are found beside it."""
    return RedirectResponse("phone/", 307)


@told
async def jobs(_: Request) -> Response:
    """Jobs that go on, the one entered into last first."""
    return _json({"jobs": [asdict(job) for job in await run_in_threadpool(_open_jobs)]})


@told
async def job(request: Request) -> Response:
    """One job as it stands now, with its forecast."""
    return _json(await run_in_threadpool(_state, request.path_params["name"]))


@told
async def entries(request: Request) -> Response:
    """Take entries: each is on disk before the answer says that it is saved."""
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise BadInput("Nothing was saved: entries are sent as JSON.")
    body = await _body(request)
    return _json(await run_in_threadpool(_take, body))


async def _body(request: Request) -> bytes:
    """What was sent, read no further than is taken."""
    parts: list[bytes] = []
    size = 0
    async for part in request.stream():
        size += len(part)
        if size > MAX_BODY_BYTES:
            raise TooLarge(f"Nothing was saved: more than {MAX_BODY_BYTES // 1000} kB at once; send fewer entries.")
        parts.append(part)
    return b"".join(parts)


def _open_jobs() -> list[Any]:
    from dashboard import data
    from dashboard.services.phone_state import phone_job

    return [phone_job(each) for each in data.site_jobs() if each.finish is None and each.received is None]


def _state(name: str) -> dict[str, Any]:
    from dashboard import data
    from dashboard.services.on_site import as_of
    from dashboard.services.phone_state import phone_state

    found = data.site_job(name)
    if found.start is None:
        raise NotThere(f"There is no job called {name} on site.")
    at = as_of(found, datetime.now())
    try:
        if fault := data.times_at_fault(found):
            raise BadInput(
                f"Nothing can be worked out: {fault}. Finish the job on the dashboard, with its right times."
            )
        view = data.site_view(str(data.book().path), found.name, found.lines, at)
        state = phone_state(found, at, view, data.watch(view.job, at))
    except (Refusal, SludgebookError) as problem:
        state = phone_state(found, at, instead=str(problem))
    return asdict(state)


def _take(body: bytes) -> dict[str, Any]:
    from dashboard import data
    from dashboard.services.phone_entries import read_sent, take

    try:
        sent = read_sent(json.loads(body, parse_constant=_no_number))
    except (ValueError, RecursionError) as problem:
        if isinstance(problem, SludgebookError):
            raise
        raise BadInput("Nothing was saved: what was sent is no JSON.") from problem
    return asdict(take(data.book(), sent))


def _no_number(word: str) -> NoReturn:
    raise ValueError(word)


ROUTES = (
    Route("/phone", with_slash, methods=["GET"]),
    Route("/phone/", page_file, methods=["GET"]),
    Route("/phone/jobs", jobs, methods=["GET"]),
    Route("/phone/job/{name:path}", job, methods=["GET"]),
    Route("/phone/entries", entries, methods=["POST"]),
    Route("/phone/{file}", page_file, methods=["GET"]),
)
