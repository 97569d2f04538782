"""Who may speak to the dashboard: pages that it served itself, under the names that it goes by. Nothing else.

A page of another site can have its own name point at this machine, or open a socket to it; the browser then speaks
for that page. So every request and every socket is looked at before anything else sees it: the name it was asked by
(`Host`), and the page it comes from (`Origin`).
"""

from __future__ import annotations

import ipaddress
import os
import socket
from collections.abc import Iterable, MutableMapping
from typing import TYPE_CHECKING, Any
from urllib.parse import SplitResult, urlsplit

from starlette.responses import PlainTextResponse

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

ADDRESS_VARIABLE = "SLUDGEBOOK_ADDRESS"
"""Where `sludgebook serve` says on which address it listens."""
LOOPBACK = "127.0.0.1"
LOOPBACK_NAMES = frozenset({"localhost", LOOPBACK, "::1"})
EVERY_ADDRESS = frozenset({"0.0.0.0", "::"})
REFUSED_NAME, REFUSED_PAGE = 421, 403
"""Status: misdirected request (RFC 9110, 15.5.20), and forbidden."""
_CLOSE_FOR_POLICY = 1008
"""RFC 6455, 7.4.1."""


def own_names(address: str) -> frozenset[str]:
    """Names under which the dashboard is asked for when it listens on `address`.

    >>> sorted(own_names("127.0.0.1")), "192.0.2.7" in own_names("192.0.2.7")
    (['127.0.0.1', '::1', 'localhost'], True)
    """
    if address in EVERY_ADDRESS:
        here = socket.gethostname().lower()
        return LOOPBACK_NAMES | {here, f"{here}.local"}
    return LOOPBACK_NAMES | {address.strip("[]").lower()}


def is_own_name(host: str, address: str) -> bool:
    """Whether a `Host` names this dashboard. On every address, any number will do: a number cannot be pointed here.

    >>> [is_own_name(host, "127.0.0.1") for host in ("localhost:8501", "[::1]:85", "evil.example:85", "a@localhost")]
    [True, True, False, False]
    >>> is_own_name("192.0.2.7:8501", "0.0.0.0"), is_own_name("192.0.2.7:8501", "127.0.0.1")
    (True, False)
    """
    asked = _split(f"//{host}")
    if asked is None or not asked.hostname or asked.username is not None or asked.path or asked.query:
        return False
    name = asked.hostname.lower().rstrip(".")
    return name in own_names(address) or (address in EVERY_ADDRESS and _is_number(name))


def is_own_page(origin: str, host: str) -> bool:
    """Whether a request comes from a page of this very dashboard: same name, same port.

    >>> [is_own_page(origin, "localhost:8501") for origin in ("http://localhost:8501", "http://localhost:99", "null")]
    [True, False, False]
    """
    page = _split(origin)
    return page is not None and page.scheme in ("http", "https") and page.netloc.lower() == host.lower()


def _split(address: str) -> SplitResult | None:
    try:
        parts = urlsplit(address)
        _ = parts.port  # a port that is no number raises here
    except ValueError:
        return None
    return parts


def _is_number(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


class OwnPagesOnly:
    """Middleware: refuses what comes under another name or from another page; what it lets through may load nothing
    from elsewhere and stand in no other page's frame."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request or socket."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        hosts, origins = (_values(scope["headers"], name) for name in (b"host", b"origin"))
        host = hosts[0] if len(hosts) == 1 else ""
        if not is_own_name(host, os.environ.get(ADDRESS_VARIABLE, LOOPBACK)):
            await _refuse(scope, receive, send, REFUSED_NAME, "This dashboard does not go by that name.")
        elif not all(is_own_page(origin, host) for origin in origins):
            await _refuse(scope, receive, send, REFUSED_PAGE, "This dashboard speaks to its own pages only.")
        else:
            await self._app(scope, receive, _closed(send, host))


def _values(headers: Iterable[tuple[bytes, bytes]], wanted: bytes) -> list[str]:
    return [value.decode("latin-1") for name, value in headers if name.lower() == wanted]


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, sentence: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": _CLOSE_FOR_POLICY, "reason": sentence})
    else:
        await PlainTextResponse(f"{sentence}\n", status)(scope, receive, send)


def _closed(send: Send, host: str) -> Send:
    """`send`, with what a browser must know added to every answer: nothing is fetched from anywhere else."""
    policy = (
        "default-src 'self' 'unsafe-inline' 'unsafe-eval' data: blob:; "
        f"connect-src 'self' ws://{host} wss://{host} data: blob:; "
        "frame-ancestors 'self'; base-uri 'self'; form-action 'self'; object-src 'none'"
    )
    added = [
        (b"content-security-policy", policy.encode("latin-1")),
        (b"referrer-policy", b"same-origin"),
        (b"x-content-type-options", b"nosniff"),
    ]

    async def send_closed(message: Message) -> None:
        if message["type"] == "http.response.start":
            named: MutableMapping[str, Any] = message
            new = {name for name, _ in added}
            kept = [pair for pair in named.get("headers", ()) if pair[0].lower() not in new]
            message = {**named, "headers": [*kept, *added]}
        await send(message)

    return send_closed


def look_nothing_up() -> None:
    """Keep the library of pages from asking the outside which addresses this machine has: nobody needs them here."""
    from streamlit import net_util

    for name, known in (("get_external_ip", None), ("get_internal_ip", LOOPBACK)):
        setattr(net_util, name, lambda known=known: known)
