"""Who leads: shrunken amounts as published, planted ones found, and a forecast without a name that stays honest."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from models.quote.answer import answer, as_json
from models.quote.base.past_jobs import History, history
from models.quote.base.targets import SPECS
from models.quote.estimator.engineer_effects import ENGINEER, Crews, learn_crews, shrunk_means
from models.quote.estimator.fit_target import Learned, learn_target
from models.quote.estimator.leaves import GROUP_NAMES
from models.quote.explain.shapley import explain
from models.quote.model.quote_model import QuoteModel, pack
from models.quote.model.storage import load_quote
from models.quote.train import train_quote
from models.store import save_model
from models.survey_features import encode, name_code
from pipeline.contract.findings import SludgebookError
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planted, Planter

FLUSH = SPECS["flush_minutes"]
PACE = np.array([-0.5, -0.2, 0.0, 0.25, 0.45])
"""Planted: what each of five engineers adds to the flush, on the log scale."""


def with_engineers(planted: Planted) -> Planted:
    who = np.random.default_rng(5).integers(0, len(PACE), len(planted.features))
    flush = planted.outcomes["flush_minutes"] * np.exp(PACE[who])
    site = planted.outcomes["site_minutes"] + flush - planted.outcomes["flush_minutes"]
    return replace(
        planted,
        features=planted.features.assign(engineer_id=[f"E{i + 1}" for i in who]),
        outcomes=planted.outcomes.assign(flush_minutes=flush, site_minutes=site, is_second_day=site > 480),
    )


@pytest.fixture(scope="module")
def book(past: Planted) -> Planted:
    return with_engineers(past)


@pytest.fixture(scope="module")
def jobs(book: Planted) -> History:
    return history(book.features, book.outcomes)


@pytest.fixture(scope="module")
def flush(jobs: History) -> Learned:
    return learn_target(FLUSH, jobs.x[:700], jobs.targets["flush_minutes"][:700], jobs.days[:700])


@pytest.fixture(scope="module")
def small(planter: Planter) -> QuoteModel:
    book = with_engineers(planter(150, seed=2))
    return train_quote(book.features, book.outcomes)


def test_shrunk_means_of_the_dyestuff_batches_are_as_published() -> None:
    # yields of six batches: Davies and Goldsmith (1972), as in lme4, whose conditional modes these are (from memory)
    yields = [
        1545,
        1440,
        1440,
        1520,
        1580,
        1540,
        1555,
        1490,
        1560,
        1495,
        1595,
        1550,
        1605,
        1510,
        1560,
        1445,
        1440,
        1595,
        1465,
        1545,
        1595,
        1630,
        1515,
        1635,
        1625,
        1520,
        1455,
        1450,
        1480,
        1445,
    ]

    found = shrunk_means(np.array(yields, dtype=float), np.repeat(np.arange(6), 5))

    assert found == pytest.approx([-17.6069, 0.3913, 28.5623, -23.0845, 56.7331, -44.9952], abs=2e-3)


def test_groups_that_differ_by_chance_alone_are_not_told_apart() -> None:
    rest = np.tile([-1.0, 1.0], 50)

    assert shrunk_means(rest, np.repeat(np.arange(10), 10)) == pytest.approx(np.zeros(10))


def test_planted_engineers_are_found_and_no_engineer_is_made_up(jobs: History) -> None:
    z = np.log(jobs.targets["flush_minutes"] + FLUSH.offset)
    shuffled = jobs.x.copy()
    shuffled[:, ENGINEER] = np.random.default_rng(1).permutation(jobs.x[:, ENGINEER])

    found, none = learn_crews(FLUSH, jobs.x, z), learn_crews(FLUSH, shuffled, z)

    at = np.searchsorted(found.codes, [name_code("own", f"E{i + 1}") for i in range(5)])
    assert found.effects[at] == pytest.approx(PACE - PACE.mean(), abs=0.06)
    assert np.abs(none.effects).max() < 0.05


def test_coverage_holds_whether_or_not_it_is_said_who_leads(flush: Learned, jobs: History) -> None:
    x, y = jobs.x[700:], jobs.targets["flush_minutes"][700:]
    unnamed = x.copy()
    unnamed[:, ENGINEER] = np.nan

    widths = {}
    for name, rows in (("named", x), ("unnamed", unnamed)):
        low, high = flush.model.quantiles(rows, [0.1, 0.9]).T
        assert np.mean((y >= low) & (y <= high)) == pytest.approx(0.8, abs=0.03 + 3 * np.sqrt(0.16 / len(y))), name
        widths[name] = np.mean(np.log(high / low))
    assert widths["named"] < 0.75 * widths["unnamed"]


def test_who_leads_is_a_reason_of_method_and_reasons_still_add_up(flush: Learned, jobs: History) -> None:
    slow, quick = jobs.x[:1].copy(), jobs.x[:1].copy()
    slow[:, ENGINEER], quick[:, ENGINEER] = name_code("own", "E5"), name_code("own", "E1")

    found = explain(flush.model, np.vstack([slow, quick]), jobs.x[:48])

    medians = flush.model.quantiles(np.vstack([slow, quick]), [0.5])[:, 0]
    assert found.usual + found.amounts.sum(axis=1) == pytest.approx(medians, abs=1e-9)
    apart = found.amounts[0] - found.amounts[1]
    assert apart[GROUP_NAMES.index("method")] > 0.6 * (medians[0] - medians[1]) > 0


def test_a_request_that_names_no_firm_is_of_the_only_one_on_record() -> None:
    one = Crews(np.sort([float(name_code("sim-mill", name)) for name in ("E1", "E2")]), np.array([0.1, 0.2]), 1.5)
    two = Crews(np.sort([float(name_code(f, "E1")) for f in ("sim-mill", "sim-weir")]), np.array([0.1, 0.2]), 1.5)
    asked = encode(pd.DataFrame({"firm_id": ["own", "sim-mill", "other"], "engineer_id": ["E1", "E1", "E1"]}))

    assert one.wider(asked).tolist() == [1.0, 1.0, 1.5]
    assert two.wider(asked).tolist() == [1.5, 1.0, 1.5]
    assert one.effect(asked)[0] == one.effect(asked)[1] != 0


def test_names_are_kept_with_the_model_and_not_called_outside(
    small: QuoteModel, planter: Planter, tmp_path: Path
) -> None:
    save_model(tmp_path / "quote", pack(small), {})
    request = with_engineers(planter(6, seed=8))
    features = request.features.assign(engineer_id=["E1", "E2", "E9", None, "E5", "E3"])

    ours, theirs = (answer(m, features, request.volumes, Firm()) for m in (small, load_quote(tmp_path)))

    assert [as_json(q) for q in ours] == [as_json(q) for q in theirs]
    assert not any("lead" in said for quote in ours for said in quote.basis.outside)


def test_a_model_that_knows_other_answers_is_refused_in_one_sentence(small: QuoteModel, tmp_path: Path) -> None:
    whole = pack(small)
    for features in (whole.facts["features"][:-1], None):
        save_model(tmp_path / "quote", replace(whole, facts={**whole.facts, "features": features}), {})

        with pytest.raises(SludgebookError, match="trained on other answers than are asked for now; run `sludgebook t"):
            load_quote(tmp_path)
