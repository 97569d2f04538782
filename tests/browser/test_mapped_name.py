"""A page of another site whose name leads to this machine: a real browser is shown nothing and let in nowhere."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import FLAGS, PROGRAMS

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
OPEN_A_SOCKET = """address => new Promise(done => {
    const socket = new WebSocket(address + '/_stcore/stream')
    socket.onopen = () => { socket.close(); done('let in') }
    socket.onerror = () => done('refused')
})"""
HAND_IN = """address => fetch(address + '/_stcore/upload_file/a/b', {method: 'PUT', body: 'x', mode: 'cors'})
    .then(answer => answer.status, () => 0)"""


@pytest.fixture(scope="module")
def mapped_browser(browser: Browser) -> Iterator[Browser]:
    """A browser for which every name under `example` leads to this machine, as a rebound name does."""
    program = next(filter(None, map(shutil.which, PROGRAMS)))
    rules = "--host-resolver-rules=MAP *.example 127.0.0.1"
    mapped = browser.browser_type.launch(executable_path=program, args=[*FLAGS, rules])
    yield mapped
    mapped.close()


def test_under_another_name_a_browser_is_shown_a_refusal_and_no_page(mapped_browser: Browser, address: str) -> None:
    page = mapped_browser.new_page()
    answer = page.goto(address.replace("127.0.0.1", "rebound.example"))

    assert answer is not None
    assert answer.status == 421
    assert "does not go by that name" in page.content()
    assert page.locator("#root, [data-testid=stApp]").count() == 0


def test_a_page_of_another_site_opens_no_socket_and_hands_in_nothing(mapped_browser: Browser, address: str) -> None:
    page = mapped_browser.new_page()
    page.route("http://foreign.example/", lambda route: route.fulfill(body="<p>foreign</p>", content_type="text/html"))
    page.goto("http://foreign.example/")
    rebound = address.replace("127.0.0.1", "rebound.example")
    sockets = [page.evaluate(OPEN_A_SOCKET, to.replace("http", "ws")) for to in (address, rebound)]
    handed_in = [page.evaluate(HAND_IN, to) for to in (address, rebound)]

    own = mapped_browser.new_page()
    own.goto(f"{address}/_stcore/health")
    assert own.evaluate(OPEN_A_SOCKET, address.replace("http", "ws")) == "let in"
    assert sockets == ["refused", "refused"]
    assert set(handed_in) <= {0, 403, 421}
