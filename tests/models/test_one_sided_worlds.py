"""Models learnt in the usual world, in worlds of one danger each: where a range no longer holds, something is said."""

from __future__ import annotations

import pytest

from tests.benchmarks.studies.study_one_sided import ONE_SIDED, learnt, score

LEAST_HELD, LEAST_TOLD = 0.65, 0.5
"""An 80 % range of 120 jobs holds 0.65 nearly always where it is right (four standard errors): under
that the model breaks, and half of the jobs that gave too little must have been told of something."""


@pytest.fixture(scope="module")
def model():
    return learnt(500, 91)


@pytest.mark.study
@pytest.mark.parametrize("name", ["usual", *ONE_SIDED])
def test_a_model_that_breaks_in_a_world_says_so(model, name: str) -> None:
    one = score(name, model, 120, 92)

    assert one.magnetite_held >= LEAST_HELD or one.told_of_low >= LEAST_TOLD
    assert one.volume_held >= 0.9  # the range is added end to end, the cautious way
