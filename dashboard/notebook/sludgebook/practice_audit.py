"""The practice audit as an estimator: which practices cut callbacks, by how much, how sure.

A face of `models.practice.audit.audit`, which says how it works and where from (models/practice/METHODS.md). It
estimates effects and predicts nothing, so there is no `predict`.
"""

from __future__ import annotations

from typing import Any, Self

import pandas as pd
from sklearn.base import BaseEstimator
from sklearn.utils.validation import check_is_fitted

from models.practice.audit import audit
from models.practice.cohort.audited_jobs import PracticeFrames, Scope
from models.practice.results.audit_result import PracticeEffect
from pipeline.contract.firm import Firm
from sludgebook.frames_in import as_frame

_UNFITTED = "This %(name)s has weighed up nothing yet: call fit(jobs, features, outcomes, callbacks) first."
_COLUMNS = ("label", "jobs_with", "jobs_without", "difference", "low", "high", "q_value", "refused")


class PracticeAudit(BaseEstimator):  # type: ignore[misc]  # scikit-learn comes without types
    """Adjusted effects of practices on debris callbacks within 365 days.

    Parameters
    ----------
    firm : Firm or None
        Rates of the firm, for what a practice is worth; None: those of a new firm.
    scope : Scope or None
        Which jobs: firms, first and last visit, system type; None: all.

    Attributes
    ----------
    result_ : Audit
        The frozen result: practices, engineers, dose-response, curves, assumptions, findings.
    effects_ : dict of str to PracticeEffect
        The practices by contrast (`column:with|without`). Differences are shares of jobs; below 0 is fewer callbacks.
    """

    def __init__(self, firm: Firm | None = None, scope: Scope | None = None) -> None:
        self.firm = firm
        self.scope = scope

    def fit(self, jobs: Any, features: Any, outcomes: Any, callbacks: Any) -> Self:
        """Weigh up the practices of `jobs`, `ftr_quote`, `ftr_outcome` and `ftr_callback`, one row a job each.

        NotEnoughData below 20 jobs with any follow-up; Refusal where no firm has handed in callbacks; BadInput for a
        frame without its keys.
        """
        named = {"jobs": jobs, "quote": features, "outcome": outcomes, "callback": callbacks}
        said = dict(zip(named, ("jobs", "features", "outcomes", "callbacks"), strict=True))
        frames = PracticeFrames(**{name: as_frame(table, said[name]) for name, table in named.items()})
        self.result_ = audit(frames, self.firm or Firm(), self.scope)
        self.effects_: dict[str, PracticeEffect] = {each.contrast: each for each in self.result_.practices}
        return self

    def table(self) -> pd.DataFrame:
        """One row a practice: jobs with and without it, the adjusted `difference` in the share of jobs with a callback,
        its 95 % interval `low` to `high`, `q_value`, `verdict` in words, and `refused`: the sentence that stands for
        figures that cannot be had. NotFittedError before `fit`."""
        check_is_fitted(self, msg=_UNFITTED)
        rows = [
            {
                "practice": each.contrast,
                **{name: getattr(each, name) for name in _COLUMNS},
                "verdict": each.verdict_words,
            }
            for each in self.result_.practices
        ]
        return pd.DataFrame(rows)
