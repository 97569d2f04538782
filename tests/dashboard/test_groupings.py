"""Groups of jobs to compare: who is in which, and who in none."""

from __future__ import annotations

import pandas as pd
import pytest

from dashboard.groupings import GROUPINGS, similar_mask

JOBS = pd.DataFrame(
    {
        "firm_id": "own",
        "job_id": list("abcd"),
        "visit_date": pd.to_datetime(["2024-03-10"] * 4),
        "predosed_on": pd.to_datetime(["2024-03-03", "2024-03-08", None, None]),
        "install_year": pd.array([2010, 2009, 1990, None], dtype="Int64"),
        "emitter_count": [8.0, 9.0, 15.0, None],
        "system_type": ["sealed", "open_vented", None, "sealed"],
        "isolation": ["one_at_a_time", "groups", "all_open", None],
    }
)


@pytest.mark.parametrize(
    ("by", "groups"),
    [
        ("Size", ["to 8 emitters", "9 to 14 emitters", "15 and more emitters", None]),
        ("Age", ["under 15 years", "15 to 29 years", "30 years and more", None]),
        ("Pre-dose", ["5 days and more", "1 to 4 days", "none on record", "none on record"]),
        ("System", ["sealed", "open-vented", None, "sealed"]),
        ("Isolation", ["one at a time", "groups", "all open", None]),
    ],
)
def test_each_job_is_in_the_group_of_its_answer_and_in_none_where_it_is_not_known(by: str, groups: list) -> None:
    found = GROUPINGS[by].of(JOBS)

    assert [None if pd.isna(each) else each for each in found] == groups
    assert {each for each in groups if each} <= set(GROUPINGS[by].groups)


def test_only_what_the_crew_did_is_called_a_practice() -> None:
    practices = [name for name, grouping in GROUPINGS.items() if grouping.is_practice]

    assert practices == ["Isolation", "Heat", "Pre-dose", "Agitation", "Connection"]


def test_similar_means_same_system_and_nearly_as_many_emitters() -> None:
    jobs = pd.DataFrame(
        {
            "firm_id": "own",
            "job_id": ["a", "b", "c", "d"],
            "system_type": ["sealed", "sealed", "open_vented", "sealed"],
            "emitter_count": [10, 13, 10, 14],
        }
    )

    assert similar_mask(jobs, jobs.iloc[0]).tolist() == [False, True, False, False]
