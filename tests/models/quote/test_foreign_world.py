"""The quote on logs of a world that is not our simulator's, handed in as files: what it promises is what happens."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from models.quote.backtest import BackTest, backtest
from models.quote.train import train_quote
from pipeline.intake.load import load
from pipeline.store.book import Book, read_table
from tests.foreign_world import write_logs

Frames = tuple[pd.DataFrame, pd.DataFrame]


@pytest.fixture(scope="module")
def frames(tmp_path_factory: pytest.TempPathFactory) -> Frames:
    folder: Path = tmp_path_factory.mktemp("foreign")
    write_logs(folder / "logs", 600, seed=1)
    book = Book(folder / "book")
    load([folder / "logs"], book)
    return read_table(book.current(), "ftr_quote"), read_table(book.current(), "ftr_outcome")


@pytest.fixture(scope="module")
def scores(frames: Frames) -> BackTest:
    return backtest(*frames)


def test_every_job_of_the_files_is_learnt_from(frames: Frames) -> None:
    assert len(frames[0]) == len(frames[1]) == 600
    assert not frames[0]["is_simulated"].any()
    assert frames[1]["non_magnetic_kg"].eq(0).mean() == pytest.approx(0.4, abs=0.06)


@pytest.mark.study
def test_coverage_holds_overall_and_by_group(scores: BackTest) -> None:
    for name, found in scores.targets.items():
        for cover, points in ((found.coverage, 0.03), *((group, 0.06) for group in found.groups.values())):
            # the promise, and two and a half standard errors of the tested jobs (nine covers of four targets)
            assert cover.share_80 == pytest.approx(0.8, abs=points + 2.5 * np.sqrt(0.16 / cover.jobs)), name
            assert cover.share_90 == pytest.approx(0.9, abs=points + 2.5 * np.sqrt(0.09 / cover.jobs)), name


@pytest.mark.study
def test_loss_is_about_that_of_the_rule_that_made_the_world(scores: BackTest) -> None:
    # the world is linear on the log scale: the linear peer is as good as can be, the quote may not be far behind it
    for found in scores.targets.values():
        assert found.better_share > -0.06
        assert found.pinball < 1.02 * found.peers["per_emitter"]


def test_jobs_that_gave_nothing_have_a_share_of_the_forecast_to_themselves(frames: Frames) -> None:
    model = train_quote(*frames).targets["non_magnetic_kg"]

    assert model.ladder.zero_mass == pytest.approx(0.4, abs=0.1)
    x = np.full((1, model.placer.place.__self__.line.usual.size), np.nan)  # type: ignore[attr-defined]
    low, middle, high = model.quantiles(x, [0.25, 0.5, 0.9])[0]
    assert low == 0 < middle < high
