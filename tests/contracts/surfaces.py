"""The same question asked of each surface: command, page, paper and Python. What comes back is plain data."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from typer.testing import CliRunner

if TYPE_CHECKING:
    from pipeline.store.book import Book

ROWS: Mapping[str, list[dict[str, Any]]] = {
    "jobs": [
        {
            "system_type": "sealed",
            "isolation": "one_at_a_time",
            "survey_ph": 12.9,
            "colour_of_door": "red",
            "predosed_on": "2031-03-01",
            "visit_date": "2031-03-04",
        }
    ],
    "emitters": [{"emitter_kind": "panel_22", "is_cold_at_survey": "yes"}] * 9,
    "pipe_runs": [],
}
"""A survey with a value that is unusual and headings that the format does not know."""


@dataclass(frozen=True)
class Surfaces:
    """One book, named to the pages as well."""

    book: Book
    folder: Path
    patch: pytest.MonkeyPatch

    @property
    def build(self) -> str:
        """The build as pages name it; empty of an empty book."""
        from dashboard import data

        return data.shelf().build

    def command(self, *words: str) -> Any:
        """What a command prints as JSON."""
        from dashboard.cli.main import app

        done = CliRunner().invoke(app, [*words, "--book", str(self.book.path)], catch_exceptions=False)
        assert done.exit_code == 0
        answer = json.loads(done.stdout)
        if isinstance(answer, dict):
            answer.pop("book", None)  # the count of jobs stands beside the answer, and is not part of it
        return answer

    def request(self) -> str:
        """The survey as a request file."""
        path = self.folder / "request.json"
        path.write_text(json.dumps(ROWS), encoding="utf-8")
        return str(path)

    @contextmanager
    def drawn(self, sheet: str) -> Iterator[list[Any]]:
        """What would be drawn on a paper, such as `quote_sheet`: contents, and the result where the paper takes it."""
        seen: list[Any] = []

        def draw(*given: Any) -> bytes:
            seen.extend(given)
            return b"%PDF"

        with self.patch.context() as patch:
            patch.setattr(f"dashboard.papers.{sheet}.{sheet}", draw)
            yield seen

    def report(self, what: str, sheet: str, *words: str) -> list[Any]:
        """What the `report` command would draw."""
        from dashboard.cli.main import app

        out = self.folder / f"{sheet}.pdf"
        out.unlink(missing_ok=True)
        asked = ["report", what, "--pdf", str(out), "--book", str(self.book.path), *words]
        with self.drawn(sheet) as seen:
            done = CliRunner().invoke(app, asked, catch_exceptions=False)
        assert done.exit_code == 0
        return seen


def plain(result: Any) -> Any:
    """A result as JSON holds it: dates and times as text, tuples as lists, no figure rounded."""
    from dashboard.cli import printing

    return json.loads(json.dumps(printing._clean(result), default=str))


def differences(one: Any, other: Any, at: str = "") -> list[str]:
    """Every field in which two answers differ, by its path."""
    if isinstance(one, dict) and isinstance(other, dict):
        names = {**one, **other}
        return [line for name in names for line in differences(one.get(name), other.get(name), f"{at}.{name}")]
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        return [
            line for i, (a, b) in enumerate(zip(one, other, strict=True)) for line in differences(a, b, f"{at}[{i}]")
        ]
    return [] if one == other else [f"{at}: {one!r} is not {other!r}"]
