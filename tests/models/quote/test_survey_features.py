"""What the quote may know, and how answers become numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd
import polars as pl

from models.survey_features import (
    FEATURE_NAMES,
    FEATURES,
    GROUPS,
    LEFT_OUT,
    POSITION,
    as_numbers,
    encode,
    feature_columns,
)
from pipeline.contract import BUILT


def test_only_what_is_known_by_survey_or_plan_is_read() -> None:
    names = {column.name for column in feature_columns()}

    assert all(column.known_by in ("survey", "plan") for column in feature_columns())
    wanted = {c.name for c in BUILT["ftr_quote"].columns if c.known_by != "key"}
    assert names == wanted - set(LEFT_OUT)


def test_every_column_is_in_exactly_one_group_of_reasons() -> None:
    grouped = [name for names in GROUPS.values() for name in names]

    assert sorted(grouped) == sorted(column.name for column in feature_columns())
    assert len(FEATURE_NAMES) == len(set(FEATURE_NAMES)) == len(FEATURES)


def test_answers_become_numbers_and_missing_stays_missing() -> None:
    frame = pd.DataFrame(
        {
            "system_type": ["sealed", "gravity", None],
            "emitter_count": pd.array([9, None, 3], dtype="Int64"),
            "filter_at_survey": pd.array([True, None, False], dtype="boolean"),
            "water_known": [True, False, True],
            "inhibitor_at_survey": pd.Series([True, None, False], dtype=object),
        }
    )

    x = encode(frame)

    def column(name: str) -> list[float | None]:
        return [None if np.isnan(v) else float(v) for v in x[:, POSITION[name]]]

    assert column("system_type=sealed") == [1.0, None, None]
    assert column("system_type=open_vented") == [0.0, None, None]
    assert column("emitter_count") == [9.0, None, 3.0]
    assert column("filter_at_survey") == column("inhibitor_at_survey") == [1.0, None, 0.0]
    assert column("water_known") == [1.0, 0.0, 1.0]
    assert column("age_years") == [None, None, None]  # a column that is not there at all


def test_rows_that_are_asked_give_the_numbers_of_rows_that_are_learnt_from() -> None:
    rows = {
        "firm_id": ["own", "own", "mill"],
        "system_type": ["sealed", "gravity", None],
        "emitter_count": [9, None, 3],
        "filter_at_survey": [True, None, False],
        "water_known": [True, False, True],
        "age_years": [30.5, None, 2.0],
        "engineer_id": ["E1", None, "E1"],
        "survey_ph": [None, None, None],
    }
    asked, learnt = encode(pl.DataFrame(rows)), encode(pd.DataFrame(rows))

    assert asked.tobytes() == learnt.tobytes()
    assert asked[0, POSITION["engineer_id"]] != asked[2, POSITION["engineer_id"]]  # two firms, one name


def test_words_where_numbers_belong_are_missing() -> None:
    assert [None if np.isnan(v) else v for v in as_numbers(pd.Series(["7", "seven", None, True, 2.5]))] == [
        *(7.0, None, None, 1.0, 2.5)
    ]


def test_no_requests_give_no_rows() -> None:
    assert encode(pd.DataFrame({"age_years": []})).shape == (0, len(FEATURES))
