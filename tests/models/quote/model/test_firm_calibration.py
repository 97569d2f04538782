"""A firm in a pool borrows the shape of the forecast; its middle and ranges are its own, and the quote says so."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from models.quote.answer import answer
from models.quote.base.past_jobs import history
from models.quote.estimator.fit_target import LEAST_FIRM_JOBS
from models.quote.model.quote_model import QuoteModel
from models.quote.model.storage import load_quote
from models.quote.offers.further import further
from models.quote.train import train_and_store
from models.scores import covered
from pipeline.contract.firm import Firm
from tests.models.quote.conftest import Planter

TIMES = 2.5
"""How much more magnetite the thin firm's houses give than those of the other firms, everything else alike."""


@dataclass(frozen=True)
class Pool:
    """Three firms: 400 jobs, 60 of dirtier houses, 8; and 300 later jobs of the second, with what they gave."""

    features: pd.DataFrame
    outcomes: pd.DataFrame
    volumes: pd.DataFrame
    later: pd.DataFrame
    gave: np.ndarray


@pytest.fixture(scope="module")
def pool(planter: Planter) -> Pool:
    thin = planter(360, seed=21, firm_id="thin")
    dirty = thin.outcomes.assign(magnetite_kg=thin.outcomes["magnetite_kg"] * TIMES)
    many, new = planter(400, seed=22, firm_id="many"), planter(8, seed=23, firm_id="new")
    early = thin.features["job_id"] < "J00060"
    return Pool(
        pd.concat([many.features, thin.features[early], new.features], ignore_index=True),
        pd.concat([many.outcomes, dirty[early], new.outcomes], ignore_index=True),
        pd.concat([many.volumes, thin.volumes, new.volumes], ignore_index=True),
        thin.features[~early],
        dirty[~early]["magnetite_kg"].to_numpy(),
    )


@pytest.fixture(scope="module")
def stored(pool: Pool, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pool")
    train_and_store(pool.features, pool.outcomes, folder)
    return folder


@pytest.fixture(scope="module")
def model(stored: Path) -> QuoteModel:
    return load_quote(stored)


def _inside(model: QuoteModel, pool: Pool, rows: pd.DataFrame) -> tuple[float, float]:
    """Share of what the thin firm's later jobs gave within the 80 % range, and below the middle."""
    found = [quote.forecasts["magnetite_kg"].quantiles for quote in answer(model, rows, pool.volumes, Firm())]
    inside = covered(pool.gave, [q.p10 for q in found], [q.p90 for q in found]).mean()
    return float(inside), float(np.mean(pool.gave < [q.p50 for q in found]))


@pytest.mark.study
def test_ranges_of_a_thin_firm_hold_because_its_own_jobs_set_them(model: QuoteModel, pool: Pool) -> None:
    inside, below = _inside(model, pool, pool.later)
    of_everyone, far_below = _inside(model, pool, pool.later.assign(firm_id="unknown", job_id=pool.later["job_id"]))

    # three standard errors: 300 jobs tested, 60 that calibrate (Beta law)
    assert inside == pytest.approx(0.8, abs=3 * np.sqrt(0.16 / 300 + 0.16 / 60))
    assert below == pytest.approx(0.5, abs=3 * np.sqrt(0.25 / 300 + 0.25 / 60))
    assert far_below < 0.1
    assert of_everyone < inside


def test_only_its_own_jobs_calibrate_it(model: QuoteModel, pool: Pool) -> None:
    own = model.own["thin"]
    magnetite = own.targets["magnetite_kg"]

    assert own.jobs == magnetite.jobs == 60
    assert LEAST_FIRM_JOBS <= len(magnetite.ladder.scores) == magnetite.calibration_jobs == 60
    assert magnetite.borrowed == 408  # all jobs of the other two firms


def test_the_quote_says_what_it_borrows(model: QuoteModel, pool: Pool) -> None:
    quote = answer(model, pool.later[:1], pool.volumes, Firm())[0]
    own = model.own["thin"].targets["magnetite_kg"]

    assert quote.basis.borrowed == (
        f"The shape of the forecast is learnt from {own.borrowed} jobs of 2 other firms and "
        f"{own.jobs} of thin; its middle and ranges rest on {own.calibration_jobs} jobs of thin alone."
    )
    assert quote.basis.calibration_jobs == own.calibration_jobs
    assert quote.basis.borrowed in [finding.sentence for finding in quote.findings]


@pytest.mark.parametrize(
    ("firm", "words"),
    [("new", "new has 8 finished jobs on record, too few"), ("own", "No job in this book is of a firm 'own'")],
)
def test_a_firm_without_ranges_of_its_own_is_told_so(model: QuoteModel, pool: Pool, firm: str, words: str) -> None:
    quote = answer(model, pool.later[:1].assign(firm_id=firm), pool.volumes, Firm())[0]

    assert quote.basis.borrowed.startswith(words)
    assert "all 468 jobs of 3 firms" in quote.basis.borrowed


def test_requests_of_several_firms_come_back_in_their_order(model: QuoteModel, pool: Pool) -> None:
    asked = pool.later[:4].assign(firm_id=["thin", "many", "thin", "new"])

    together = answer(model, asked, pool.volumes, Firm())
    alone = [answer(model, asked[i : i + 1], pool.volumes, Firm())[0] for i in range(4)]

    assert [quote.firm_id for quote in together] == list(asked["firm_id"])
    assert [quote.job_id for quote in together] == list(asked["job_id"])
    assert [quote.basis for quote in together] == [quote.basis for quote in alone]
    for one, other in zip(together, alone, strict=True):
        assert one.price.price == pytest.approx(other.price.price)
        assert one.forecasts["magnetite_kg"].percentiles == pytest.approx(other.forecasts["magnetite_kg"].percentiles)


def test_offers_rest_on_the_firms_own_ranges_too(model: QuoteModel, pool: Pool) -> None:
    quote = answer(model, pool.later[:1], pool.volumes, Firm())[0]
    offer = further(model, pool.later[:1], pool.volumes, Firm())[0].options[0]

    assert offer.magnetite_kg == quote.forecasts["magnetite_kg"].quantiles


def test_a_book_of_one_firm_borrows_nothing(planter: Planter) -> None:
    from models.quote.train import train_quote

    one = planter(60, seed=2)
    model = train_quote(one.features, one.outcomes)

    assert model.own == {}
    assert model.of_firm("any") is model
    assert answer(model, one.features[:1], one.volumes, Firm())[0].basis.borrowed == ""


def test_the_back_test_of_a_pool_uses_each_firms_own_ranges(stored: Path, pool: Pool) -> None:
    from models.quote.model.storage import load_report

    scores = load_report(stored)["backtest"]["targets"]["magnetite_kg"]

    assert scores["jobs"] == pytest.approx(len(history(pool.features, pool.outcomes)) / 2, abs=10)
    assert scores["coverage"]["share_80"] == pytest.approx(0.8, abs=0.1)
