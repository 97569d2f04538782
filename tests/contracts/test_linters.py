"""ruff and mypy, with the settings of pyproject.toml, have nothing to say."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("words", [("ruff", "check", "."), ("mypy",)], ids=["ruff", "mypy"])
def test_the_linter_finds_nothing(words: tuple[str, ...]) -> None:
    done = subprocess.run([sys.executable, "-m", *words], capture_output=True, text=True, cwd=ROOT, check=False)

    assert done.returncode == 0, done.stdout + done.stderr
