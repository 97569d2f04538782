"""Groups in which coverage is promised: each job is in one of each kind."""

from __future__ import annotations

import numpy as np

from models.quote.estimator.groups import groups_of
from models.survey_features import FEATURE_NAMES, POSITION


def test_each_job_is_in_one_group_of_each_kind() -> None:
    chance = np.random.default_rng(1)
    x = np.full((50, len(FEATURE_NAMES)), np.nan)
    x[:, POSITION["emitter_count"]] = chance.integers(3, 24, 50)
    vented = chance.random(50) < 0.5
    x[:, POSITION["system_type=open_vented"]] = vented
    x[:, POSITION["system_type=sealed"]] = ~vented
    x[:, POSITION["water_known"]] = chance.random(50) < 0.5

    member = np.column_stack(list(groups_of(x).values())).astype(int)

    assert member.shape == (50, 7)
    for first, last in ((0, 2), (2, 5), (5, 7)):
        assert (member[:, first:last].sum(axis=1) == 1).all()
