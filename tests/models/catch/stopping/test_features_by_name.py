"""Features of a moment go by name: what stands under a name is that, and a model of other names is refused."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from models.catch.posterior.job_arrays import job_arrays
from models.catch.stopping import storage
from models.catch.stopping.landmark_features import (
    BY_EMITTER_FEATURES,
    HOUSE_FEATURES,
    KINDS,
    PlanForecast,
    features_of,
    glance,
    house_row,
)
from models.catch.stopping.storage import load_catch, pack
from models.catch.stopping.train_stopping import Learnt, learn
from models.store import save_model
from pipeline.contract.findings import SludgebookError
from tests.models.catch import planted


@pytest.fixture(scope="module")
def learnt() -> Learnt:
    return learn(planted.firm(60, seed=3))


def test_no_two_features_have_one_name_and_every_row_has_them_all(learnt: Learnt) -> None:
    one = job_arrays(planted.firm(1, seed=4)[0], learnt.pace)
    assert one is not None
    seen = glance(one, 0.5 * one.end)
    assert seen is not None

    row = house_row(9, seen, PlanForecast(math.log(2.0), math.log(one.end)))

    for names in (HOUSE_FEATURES, BY_EMITTER_FEATURES):
        assert len(set(names)) == len(names)
    assert row.shape == (len(HOUSE_FEATURES),)
    found = dict(zip(HOUSE_FEATURES, row.tolist(), strict=True))
    assert found["progress"] == pytest.approx(0.5)
    assert found["log_minutes_left"] == pytest.approx(math.log(0.5 * one.end))
    assert found["log_caught_kg"] == pytest.approx(math.log(seen.caught + 0.02))
    assert found["groups"] == 3
    assert found["log_caught_kg_by_progress"] == pytest.approx(0.5 * found["log_caught_kg"])


def test_names_are_stored_and_a_model_of_other_names_or_of_an_older_form_is_refused(
    learnt: Learnt, tmp_path: Path
) -> None:
    stored = pack(learnt)
    (kind, crew), *_ = stored.facts["crews"].items()
    assert kind in KINDS
    assert crew["features"] == list(features_of(kind))
    swapped = {**crew, "features": [*crew["features"][1:], crew["features"][0]]}
    plan = stored.facts["plan_features"]
    for number, facts in enumerate(
        (
            {**stored.facts, "crews": {**stored.facts["crews"], kind: swapped}},
            {**stored.facts, "plan_features": [plan[1], plan[0], *plan[2:]]},
            {**stored.facts, "form": storage.FORM - 1},
            {name: value for name, value in stored.facts.items() if name != "plan_features"},
        )
    ):
        save_model(
            tmp_path / str(number) / "catch", replace(stored, facts=json.loads(json.dumps(facts))), {"model": "catch"}
        )
        with pytest.raises(SludgebookError, match=r"^[^.]*older form; run `sludgebook train` again\.$"):
            load_catch(tmp_path / str(number))
