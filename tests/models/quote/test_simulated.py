"""The quote on simulated jobs, through the whole pipeline: what its forecasts promise is what happens.

These are simulated data only: they show that the code keeps its promises in this invented world.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from models.quote.answer import answer
from models.quote.backtest import BackTest, backtest
from models.quote.model.storage import load_quote
from models.quote.train import train_quote
from models.scores import Coverage
from pipeline.contract.firm import Firm
from pipeline.store.book import Book, read_table

Frames = tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]


SEEDS = (3, 4)


@pytest.fixture(scope="module")
def worlds(tmp_path_factory: pytest.TempPathFactory) -> list[Frames]:
    """Quote features, outcomes and volumes of 1,500 jobs of the usual world a seed, in order of time."""
    from pipeline.intake.load import load
    from synthetic_data.simulate import simulate_to_folder

    found = []
    for seed in SEEDS:
        folder: Path = tmp_path_factory.mktemp("usual")
        simulate_to_folder(folder / "logs", jobs=1500, seed=seed, format="parquet", progress=None)
        book = Book(folder / "book")
        load([folder / "logs"], book)
        features, outcomes, volumes = (
            read_table(book.current(), name) for name in ("ftr_quote", "ftr_outcome", "ftr_volume")
        )
        found.append((features.sort_values("visit_date", ignore_index=True), outcomes, volumes))
    return found


@pytest.fixture(scope="module")
def frames(worlds: list[Frames]) -> Frames:
    return worlds[0]


@pytest.fixture(scope="module")
def scores(worlds: list[Frames]) -> list[BackTest]:
    return [backtest(features, outcomes) for features, outcomes, _ in worlds]


def pooled(covers: list[Coverage]) -> Coverage:
    jobs = [cover.jobs for cover in covers]
    shares = ([getattr(cover, name) for cover in covers] for name in ("share_80", "share_90"))
    return Coverage(sum(jobs), *(float(np.average(each, weights=jobs)) for each in shares))


@pytest.mark.study
def test_coverage_is_what_it_claims_overall_and_by_group(scores: list[BackTest]) -> None:
    for name in scores[0].targets:
        targets = [world.targets[name] for world in scores]

        # ±3 points overall and ±6 by group are promised; the rest is two standard errors of the tested jobs
        def allowed(points: float, jobs: int) -> float:
            return points + 2 * np.sqrt(0.16 / jobs)

        cover = pooled([target.coverage for target in targets])
        assert cover.share_80 == pytest.approx(0.8, abs=allowed(0.03, cover.jobs))
        assert cover.share_90 == pytest.approx(0.9, abs=allowed(0.03, cover.jobs))
        for label in targets[0].groups:
            group = pooled([target.groups[label] for target in targets])
            assert group.share_80 == pytest.approx(0.8, abs=allowed(0.06, group.jobs)), (name, label)
            assert group.share_90 == pytest.approx(0.9, abs=allowed(0.06, group.jobs)), (name, label)


@pytest.mark.study
def test_magnetite_and_minutes_are_forecast_better_than_by_any_simple_peer(scores: list[BackTest]) -> None:
    names = scores[0].targets
    better = {name: np.mean([world.targets[name].better_share for world in scores]) for name in names}

    assert better["magnetite_kg"] > 0.10
    assert better["flush_minutes"] > 0.03
    assert better["site_minutes"] > 0.03


@pytest.mark.study
def test_second_days_come_as_often_as_forecast(frames: Frames) -> None:
    features, outcomes, volumes = frames
    model = train_quote(features[:1000], outcomes)
    quotes = answer(model, features[1000:], volumes, Firm())
    chance = np.array([quote.second_day for quote in quotes])

    happened = features[1000:].merge(outcomes, on=["firm_id", "job_id"])["is_second_day"].astype(float).to_numpy()

    assert chance.mean() == pytest.approx(happened.mean(), abs=0.03)
    assert np.mean((chance - happened) ** 2) < 0.8 * happened.var()  # Brier: better than the base rate


def test_every_quote_of_a_simulated_book_says_so(trained_book: Book) -> None:
    build = trained_book.current()
    model = load_quote(trained_book.models_dir(build))

    quotes = answer(model, read_table(build, "ftr_quote"), read_table(build, "ftr_volume"), Firm())

    assert len(quotes) == 90
    assert all("simulated_only" in {f.code for f in quote.findings} for quote in quotes)
    assert all(quote.basis.method == "boosted" and quote.basis.simulated_share == 1 for quote in quotes)
