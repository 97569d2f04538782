"""Lint, format, types and studies are steps of `.ci/run` beside the quick tests: none of them may go missing there."""

from __future__ import annotations

from pathlib import Path

import pytest

RUN = (Path(__file__).parents[2] / ".ci" / "run").read_text(encoding="utf-8").splitlines()
STEPS = (
    ".venv/bin/ruff check .",
    ".venv/bin/ruff format --check .",
    ".venv/bin/mypy",
    ".venv/bin/pytest -m study -n auto --dist loadfile",
)


@pytest.mark.parametrize("step", STEPS)
def test_a_step_stands_in_the_run_of_every_change_and_its_failure_ends_it(step: str) -> None:
    assert step in RUN
    assert "set -euo pipefail" in RUN[: RUN.index(step)]
