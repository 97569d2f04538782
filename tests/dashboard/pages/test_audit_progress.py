"""An audit shows how far it is while it works: a bar on the page, a line or a bar on standard error."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from typer.testing import CliRunner

from dashboard.cli import printing
from dashboard.cli.main import app as commands
from pipeline.store.book import Book

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
PRACTICES = 17


@pytest.fixture(scope="module")
def book(simulated_book: Callable[..., Book]) -> Path:
    """60 jobs: most practices are refused at once, and every one is still a step."""
    return simulated_book(60, 4).path


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[float, str]]:
    """Every state of a bar on a page, in order; the page draws it as before."""
    from streamlit.delta_generator import DeltaGenerator

    states: list[tuple[float, str]] = []
    really = DeltaGenerator.progress

    def progress(self: DeltaGenerator, value: float, text: str | None = None, **more: Any) -> DeltaGenerator:
        states.append((value, text or ""))
        return really(self, value, text, **more)

    monkeypatch.setattr(DeltaGenerator, "progress", progress)
    return states


def test_the_page_draws_a_bar_that_grows_practice_by_practice_and_goes(
    open_page: Open, book: Path, drawn: list[tuple[float, str]]
) -> None:
    app = open_page("practice_audit", book)

    assert not app.exception
    shares, words = zip(*drawn, strict=True)
    assert shares[0] == 0.0
    assert list(shares) == sorted(set(shares))
    assert len(shares) == PRACTICES + 1
    assert shares[-1] == pytest.approx(PRACTICES / (PRACTICES + 1))
    assert words[0] == "Comparing jobs that are alike: step 1 of 18"
    assert not app.main.get("progress")


def test_an_audit_that_was_made_before_draws_no_bar_again(
    open_page: Open, book: Path, drawn: list[tuple[float, str]]
) -> None:
    app = open_page("practice_audit", book)
    drawn.clear()

    app.run()

    assert drawn == []


def test_the_command_says_on_standard_error_what_runs(book: Path) -> None:
    done = CliRunner().invoke(commands, ["audit", "--book", str(book), "--json"])

    assert done.exit_code == 0
    assert done.stderr.splitlines() == ["Weighing up practices …"]
    assert done.stdout.startswith("{")


def test_on_a_terminal_the_command_moves_its_bar_to_the_end(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is handed to the bar: one step a practice, and one for the engineers."""
    steps: list[tuple[int, int]] = []

    @contextmanager
    def recorded(_: str) -> Iterator[Callable[[int, int, str], None]]:
        yield lambda at, of, _step: steps.append((at, of))

    monkeypatch.setattr(printing, "progress", recorded)

    done = CliRunner().invoke(commands, ["audit", "--book", str(book), "--json"])

    assert done.exit_code == 0
    assert steps == [(number + 1, PRACTICES + 1) for number in range(PRACTICES + 1)]
