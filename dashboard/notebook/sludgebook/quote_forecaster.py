"""The quote as an estimator: what a job will give and take, why, and at what price.

A face of `models.quote.train.train_quote` and `models.quote.answer.answer`, which say how it works and where from
(models/quote/METHODS.md). It forecasts four targets of a frame at once and gives distributions, so scikit-learn's own
checks for regressors do not apply to it; they are run on the ridge at its core (`BoundedRidge`).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, Self

import pandas as pd
from sklearn.base import BaseEstimator
from sklearn.utils.validation import check_is_fitted

from dashboard.services.quoting import forecaster
from models.practice.cohort.audited_jobs import PracticeFrames
from models.quote.answer import answer
from models.quote.base.quote_result import Quote
from models.quote.model.callback_inputs import learn_returns
from models.quote.train import train_quote
from models.refusals import NotEnoughData
from pipeline.contract.firm import Firm
from pipeline.store.book import Book
from sludgebook.frames_in import KEYS, as_frame

_VOLUME_COLUMNS = ("system_volume_low_l", "system_volume_l", "system_volume_high_l", "system_volume_method")
_UNFITTED = "This %(name)s has learnt nothing yet: call fit(features, outcomes), or QuoteForecaster.from_book(path)."


class QuoteForecaster(BaseEstimator):  # type: ignore[misc]  # scikit-learn comes without types
    """Quotes from survey and plan, learnt from finished jobs.

    Parameters
    ----------
    firm : Firm or None
        Rates and rules of the firm, in its currency before tax; None: those of a new firm.
    random_state : int
        Seed of the boosting and of the joint scenarios.

    Attributes
    ----------
    model_ : QuoteModel
        What was learnt.
    jobs_ : int
        Finished jobs it was learnt from; 0 where the rule of common practice stands in.
    methods_ : dict of str to str
        How each target is forecast: `typical_rule`, `per_emitter_rule` or `boosted`.
    """

    def __init__(self, firm: Firm | None = None, random_state: int = 0) -> None:
        self.firm = firm
        self.random_state = random_state

    def fit(self, features: Any, outcomes: Any, *, jobs: Any = None, callbacks: Any = None) -> Self:
        """Learn from `features` (as `ftr_quote`) and `outcomes` (as `ftr_outcome`), one row a job, joined by job.

        With `jobs` and `callbacks` (as `ftr_callback`) of the same book a price also counts return visits.
        NotEnoughData where no job stands in both frames; ValueError where a job stands twice; BadInput for a frame
        without its keys.
        """
        asked, done = as_frame(features, "features", (*KEYS, "visit_date")), as_frame(outcomes, "outcomes")
        if (jobs is None) != (callbacks is None):
            raise TypeError("Return visits need both frames: jobs and callbacks.")
        model = train_quote(asked, done, seed=self.random_state)
        if model.records.jobs == 0:
            raise NotEnoughData(what="finished job that stands in both frames", needed=1, found=0)
        if jobs is not None:
            frames = PracticeFrames(as_frame(jobs, "jobs"), asked, done, as_frame(callbacks, "callbacks"))
            model = replace(model, returns=learn_returns(frames))
        return self._keep(model)

    @classmethod
    def from_book(cls, path: str | Path) -> Self:
        """The model that `sludgebook train` has stored in a book, with the book's own settings.

        Of a book without a job it is the rule of common practice. BookError where there is no book, or jobs but no
        trained model.
        """
        book = Book(Path(path))
        return cls(firm=book.firm())._keep(forecaster(book).model)

    def answer(self, features: Any, volumes: Any = None) -> list[Quote]:
        """The whole quote of each row of `features`, in their order: forecasts, price, reasons, similar jobs, findings.

        `volumes` as `ftr_volume`; a job without its row is given a typical system's volume. NotFittedError before
        `fit`; BadInput for a frame without its keys.
        """
        check_is_fitted(self, msg=_UNFITTED)
        asked = as_frame(features, "features")
        if volumes is None:
            sizes = pd.DataFrame(columns=[*KEYS, *_VOLUME_COLUMNS], dtype=object)
        else:
            sizes = as_frame(volumes, "volumes", (*KEYS, *_VOLUME_COLUMNS))
        return answer(self.model_, asked, sizes, self.firm or Firm())

    def predict_quantiles(self, features: Any, volumes: Any = None) -> pd.DataFrame:
        """One row a job and target: `firm_id`, `job_id`, `target`, `unit`, and `p05` to `p95` in that unit.

        Quantiles never cross. Errors as for `answer`.
        """
        rows = [
            {"firm_id": quote.firm_id, "job_id": quote.job_id, "target": target, "unit": found.unit}
            | dict(found.quantiles.as_dict())
            for quote in self.answer(features, volumes)
            for target, found in quote.forecasts.items()
        ]
        return pd.DataFrame(rows)

    def explain(self, features: Any, volumes: Any = None) -> pd.DataFrame:
        """Shapley reasons, one row a job, target and group of answers: `amount` is what the group adds, in `unit`.

        `usual` + the sum of a target's amounts = `median`. Explained are magnetite and time on site. Errors as for
        `answer`. Source: Shapley 1953, as in models/quote/METHODS.md.
        """
        rows = [
            {
                "firm_id": quote.firm_id,
                "job_id": quote.job_id,
                "target": why.target,
                "unit": why.unit,
                "group": reason.group,
                "amount": reason.amount,
                "usual": why.usual,
                "median": why.median,
            }
            for quote in self.answer(features, volumes)
            for why in quote.why
            for reason in why.reasons
        ]
        return pd.DataFrame(rows)

    def _keep(self, model: Any) -> Self:
        self.model_ = model
        self.jobs_ = model.records.jobs
        self.methods_ = {target: one.method for target, one in model.targets.items()}
        return self
