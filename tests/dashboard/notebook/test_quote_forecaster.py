"""Quotes through the door are those of the command, whether learnt from frames or loaded from the book."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from models.practice.cohort.audited_jobs import PracticeFrames
from models.quote.answer import answer
from models.quote.base.quote_result import TARGETS
from models.quote.model.callback_inputs import learn_returns
from models.quote.model.storage import load_quote
from models.refusals import NotEnoughData
from pipeline.contract.findings import BadInput, BookError
from pipeline.store.book import Book
from sludgebook import BookFrames, QuoteForecaster, read_book

LEVELS = ["p05", "p10", "p25", "p50", "p75", "p90", "p95"]


@pytest.fixture(scope="module")
def frames(trained_book: Book) -> BookFrames:
    return read_book(trained_book.path)


@pytest.fixture(scope="module")
def loaded(trained_book: Book) -> QuoteForecaster:
    return QuoteForecaster.from_book(trained_book.path)


def test_loaded_from_a_book_it_quotes_as_the_stored_model_does(
    trained_book: Book, frames: BookFrames, loaded: QuoteForecaster
) -> None:
    model = load_quote(trained_book.models_dir(trained_book.current()))
    asked = frames.features.iloc[:5]

    assert loaded.answer(asked, frames.volumes) == answer(model, asked, frames.volumes, trained_book.firm())
    assert loaded.jobs_ == model.records.jobs > 0


def test_learnt_from_frames_of_either_library_it_quotes_as_the_trained_book_does(
    frames: BookFrames, loaded: QuoteForecaster
) -> None:
    learnt = QuoteForecaster(frames.firm)
    assert learnt.fit(pl.from_pandas(frames.features), pl.from_pandas(frames.outcomes)) is learnt

    assert learnt.methods_ == loaded.methods_
    assert learnt.predict_quantiles(frames.features.iloc[:9], frames.volumes).equals(
        loaded.predict_quantiles(frames.features.iloc[:9], frames.volumes)
    )


def test_quantiles_are_a_row_a_job_and_target_in_the_order_asked(frames: BookFrames, loaded: QuoteForecaster) -> None:
    asked = frames.features.iloc[[7, 2, 4]]
    found = loaded.predict_quantiles(asked)

    assert list(found.columns) == ["firm_id", "job_id", "target", "unit", *LEVELS]
    assert found["job_id"].tolist() == np.repeat(asked["job_id"].tolist(), 4).tolist()
    assert found["target"].tolist() == [*TARGETS] * 3
    assert (np.diff(found[LEVELS].to_numpy(), axis=1) >= 0).all()


def test_reasons_add_up_to_the_median_from_that_of_a_usual_job(frames: BookFrames, loaded: QuoteForecaster) -> None:
    asked = frames.features.iloc[:4]
    why = loaded.explain(asked).set_index(["job_id", "target"])
    medians = loaded.predict_quantiles(asked).set_index(["job_id", "target"])["p50"]
    summed = why.groupby(level=[0, 1])["amount"].sum() + why.groupby(level=[0, 1])["usual"].first()

    assert len(summed) == 8
    assert summed.to_numpy() == pytest.approx(medians.loc[summed.index].to_numpy())


def test_the_settings_handed_in_move_the_price_and_nothing_else(frames: BookFrames, loaded: QuoteForecaster) -> None:
    dearer = copy(loaded).set_params(firm=replace(frames.firm, hourly_rate=2 * frames.firm.hourly_rate))
    (before,), (after,) = (each.answer(frames.features.iloc[:1], frames.volumes) for each in (loaded, dearer))

    assert after.price.cost.p50 > before.price.cost.p50
    assert after.forecasts == before.forecasts


def test_frames_with_no_finished_job_or_without_keys_are_refused(frames: BookFrames) -> None:
    none = frames.outcomes.iloc[:0]
    with pytest.raises(NotEnoughData, match="at least 1 finished job that stands in both frames; there are 0"):
        QuoteForecaster().fit(frames.features, none)
    with pytest.raises(BadInput, match="`outcomes` lacks firm_id"):
        QuoteForecaster().fit(frames.features, frames.outcomes.drop(columns="firm_id"))
    with pytest.raises(TypeError, match="features must be a pandas or polars frame; it is list"):
        QuoteForecaster().fit([1], none)
    with pytest.raises(TypeError, match="both frames"):
        QuoteForecaster().fit(frames.features, frames.outcomes, jobs=frames.jobs)


def test_a_book_without_jobs_quotes_by_common_practice_and_one_without_a_model_says_so(
    tmp_path: Path, small_book: Book, frames: BookFrames
) -> None:
    (quote,) = QuoteForecaster.from_book(tmp_path).answer(frames.features.iloc[:1])

    assert quote.basis.method == "typical_rule"
    with pytest.raises(BookError, match="No model is fitted"):
        QuoteForecaster.from_book(small_book.path)
    with pytest.raises(BookError, match="no book at"):
        read_book(tmp_path / "elsewhere")


def test_with_jobs_and_callbacks_it_knows_of_return_visits_what_training_a_book_learns(small_book: Book) -> None:
    book = read_book(small_book.path)
    learnt = QuoteForecaster().fit(book.features, book.outcomes, jobs=book.jobs, callbacks=book.callbacks)
    expected = learn_returns(PracticeFrames(book.jobs, book.features, book.outcomes, book.callbacks))

    assert learnt.model_.returns.usual.rate == expected.usual.rate
    assert expected.usual.rate.jobs == 40
    assert QuoteForecaster().fit(book.features, book.outcomes).model_.returns is None
