"""A short run of kills; the long one is `python -m tests.faults.kill_many --kills 200`."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults.kill_many import SCENARIOS

ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills need a system that can fork")
@pytest.mark.parametrize(
    ("kills", "struck", "scenarios"),
    [(2, 1, ["first_load", "on_site"]), pytest.param(10, 5, SCENARIOS, marks=pytest.mark.study)],
)
def test_a_load_or_entry_killed_at_random_points_leaves_the_book_clean_and_whole(
    kills: int, struck: int, scenarios: list[str]
) -> None:
    """One kill of a first load and one among entries find what goes wrong at nearly any point, such as a file that is
    written under its own name; a window of a tenth of the work is found by the ten of the study with 65 % chance."""
    told = ["--kills", str(kills), "--seed", "3", "--scenarios", *scenarios]
    command = [sys.executable, "-m", "tests.faults.kill_many", *told]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=600)

    said = re.match(rf"{kills} kills, seed 3: (\d+) in the midst of work, 0 left something wrong", done.stdout)
    assert done.returncode == 0, done.stdout + done.stderr
    assert said, done.stdout
    assert int(said[1]) >= struck
