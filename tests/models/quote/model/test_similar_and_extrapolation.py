"""The nearest past jobs, and what in a request the records have never seen."""

from __future__ import annotations

import numpy as np
import pytest

from models.quote.base.past_jobs import History, history
from models.quote.model.extrapolation import Ranges
from models.quote.model.similar_jobs import neighbours
from models.survey_features import FEATURES, POSITION
from tests.models.quote.conftest import Planted, Planter


@pytest.fixture(scope="module")
def jobs(past: Planted) -> History:
    return history(past.features, past.outcomes)


def test_a_job_is_most_similar_to_itself_and_its_outcome_is_told(jobs: History) -> None:
    found = neighbours(jobs).nearest(jobs.x[[3, 700]])

    for row, similar in zip((3, 700), found, strict=True):
        assert similar[0].job_id == jobs.frame["job_id"].iloc[row]
        assert similar[0].distance == pytest.approx(0, abs=1e-6)
        assert similar[0].magnetite_kg == jobs.targets["magnetite_kg"][row]
        assert [s.distance for s in similar] == sorted(s.distance for s in similar)
        assert len(similar) == 5


def test_nearest_jobs_are_those_of_a_search_one_by_one(jobs: History) -> None:
    near = neighbours(jobs)
    asked = near.scaled[11]
    distances = np.sqrt(((near.scaled - asked) ** 2).mean(axis=1))

    found = near.nearest(jobs.x[[11]])[0]

    expected = jobs.frame["job_id"].to_numpy()[np.argsort(distances, kind="stable")[:5]]
    assert [s.job_id for s in found] == expected.tolist()


def test_no_records_have_no_similar_jobs(jobs: History, planter: Planter) -> None:
    none = planter(5)
    empty = history(none.features[:0], none.outcomes[:0])

    assert neighbours(empty).nearest(jobs.x[:2]) == [(), ()]


def _ranges() -> tuple[Ranges, np.ndarray]:
    records = np.full((3, len(FEATURES)), np.nan)
    records[:, POSITION["age_years"]] = [12, 40, 71]
    records[:, POSITION["emitter_count"]] = [5, 9, 24]
    records[:, POSITION["pipe_layout=two_pipe"]] = 1
    records[:, POSITION["pipe_layout=one_pipe"]] = 0
    return Ranges.of(records), records[:1].copy()


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("age_years", 96, ("age 96 years: the oldest in the records is 71",)),
        ("age_years", 2, ("age 2 years: the newest in the records is 12",)),
        ("emitter_count", 60, ("emitters 60: the most in the records is 24",)),
        ("pipe_layout=one_pipe", 1, ("pipework as found one_pipe: none such in the records",)),
        ("survey_ph", 8, ("ph of the system water: not known for any job in the records",)),
        ("age_years", 71, ()),
        ("age_years", np.nan, ()),
    ],
)
def test_what_lies_outside_the_records_is_said_in_words(name: str, value: float, said: tuple[str, ...]) -> None:
    ranges, request = _ranges()
    request[0, POSITION[name]] = value

    assert ranges.outside(request) == [said]
