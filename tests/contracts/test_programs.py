"""Benchmarks, studies and the fault planters are run by hand: each of them can at least be imported."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PROGRAMS = sorted(path for name in ("benchmarks", "mutation") for path in (ROOT / "tests" / name).rglob("*.py"))
OF_THE_BENCH = {"cosmic_ray", "doubleml", "lightgbm"}
"""Libraries that come with the `bench` extra alone."""


def test_there_are_programs_of_both_kinds() -> None:
    assert {path.relative_to(ROOT / "tests").parts[0] for path in PROGRAMS} == {"benchmarks", "mutation"}


@pytest.mark.study
@pytest.mark.parametrize("path", PROGRAMS, ids=lambda path: path.stem)
def test_a_program_beside_the_tests_can_be_imported(path: Path) -> None:
    try:
        importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))
    except ModuleNotFoundError as error:
        if str(error.name).partition(".")[0] not in OF_THE_BENCH:
            raise
        pytest.skip(f"{error.name} comes with the bench extra")
