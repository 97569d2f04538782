"""After random sequences of loads the book is clean and holds what was handed in last."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.metamorphic.sequences import faults_of_sequence, random_loads


@pytest.mark.parametrize("seed", [2, *(pytest.param(seed, marks=pytest.mark.study) for seed in (1, 3, 4))])
def test_a_random_sequence_of_loads_leaves_what_was_handed_in_last(seed: int, tmp_path: Path) -> None:
    assert faults_of_sequence(seed, tmp_path, count=4) == []


def test_the_sequences_go_back_to_earlier_files() -> None:
    again = [len(loads) - len({id(part) for part in loads}) for loads in (random_loads(seed, 4) for seed in (1, 2))]
    assert sum(again) >= 2
