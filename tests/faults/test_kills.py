"""A short run of kills; the long one is `python -m tests.faults.kill_many --kills 200`."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills need a system that can fork")
def test_a_load_or_entry_killed_at_random_points_leaves_the_book_clean_and_whole() -> None:
    command = [sys.executable, "-m", "tests.faults.kill_many", "--kills", "10", "--seed", "3"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=600)

    said = re.match(r"10 kills, seed 3: (\d+) in the midst of work, 0 left something wrong", done.stdout)
    assert done.returncode == 0, done.stdout + done.stderr
    assert said, done.stdout
    assert int(said[1]) >= 5
