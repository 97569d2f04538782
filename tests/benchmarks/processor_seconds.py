"""Processor seconds of each test with its set-up and the programs it starts: what a busy machine does not change.

`PYTHONPATH=. SECONDS_TO=/a/folder .venv/bin/pytest -p tests.benchmarks.processor_seconds …` adds a line a test to a
file a worker; `python -m tests.benchmarks.processor_seconds /a/folder` prints the sum and the slowest thirty.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

SHOWN = 30


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Time one test with its fixtures; nothing of it is changed."""
    before = sum(os.times()[:4])
    answer = yield
    with (Path(os.environ["SECONDS_TO"]) / f"{os.getpid()}.txt").open("a", encoding="utf-8") as out:
        out.write(f"{sum(os.times()[:4]) - before:.2f} {item.nodeid}\n")
    return answer


def main(folder: Path) -> None:
    """Print the sum and the slowest tests of a run."""
    lines = [line for path in sorted(folder.glob("*.txt")) for line in path.read_text(encoding="utf-8").splitlines()]
    tests = sorted(((float(seconds), name) for seconds, name in (line.split(" ", 1) for line in lines)), reverse=True)
    sys.stdout.write(f"{sum(seconds for seconds, _ in tests):.0f} s in {len(tests)} tests\n")
    for seconds, name in tests[:SHOWN]:
        sys.stdout.write(f"{seconds:7.1f}  {name}\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
