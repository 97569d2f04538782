"""The manners of scikit-learn that every estimator of the door keeps, whatever it estimates."""

from __future__ import annotations

import pytest
from sklearn.base import BaseEstimator, clone
from sklearn.exceptions import NotFittedError
from sklearn.utils import estimator_checks

from models.practice.cohort.audited_jobs import Scope
from pipeline.contract.firm import Firm
from sludgebook import CatchCurve, PracticeAudit, QuoteForecaster

CHECKS = (
    estimator_checks.check_estimator_cloneable,
    estimator_checks.check_estimator_repr,
    estimator_checks.check_get_params_invariance,
    estimator_checks.check_no_attributes_set_in_init,
    estimator_checks.check_parameters_default_constructible,
    estimator_checks.check_set_params,
)
"""Checks of scikit-learn that fit nothing: the others hand in X and y, and these three take frames or a curve."""


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
@pytest.mark.parametrize("door", [QuoteForecaster, CatchCurve, PracticeAudit])
def test_parameters_are_kept_as_they_come_and_nothing_more(door: type[BaseEstimator], check: object) -> None:
    assert callable(check)
    check(door.__name__, door())


def test_a_clone_has_the_parameters_and_nothing_that_was_learnt() -> None:
    firm = Firm(currency="EUR")
    fitted = CatchCurve(level=0.8).fit([10, 20, 40, 60, 90], [0.63, 1.10, 1.73, 2.08, 2.33])

    assert clone(fitted).get_params() == {"level": 0.8}
    assert not hasattr(clone(fitted), "result_")
    assert clone(QuoteForecaster(firm, random_state=3)).get_params() == {"firm": firm, "random_state": 3}
    assert clone(PracticeAudit(scope=Scope(firms=("a",)))).set_params(firm=firm).get_params() == {
        "firm": firm,
        "scope": Scope(firms=("a",)),
    }


def test_an_answer_before_fit_names_the_call_that_is_missing() -> None:
    with pytest.raises(NotFittedError, match=r"call fit\(features, outcomes\), or QuoteForecaster.from_book\(path\)"):
        QuoteForecaster().predict_quantiles(None)
    with pytest.raises(NotFittedError, match=r"This CatchCurve .* call fit\(minutes, kilograms\) first"):
        CatchCurve().predict([1.0])
    with pytest.raises(NotFittedError, match=r"call fit\(minutes, kilograms\) first"):
        CatchCurve().left_kg()
    with pytest.raises(NotFittedError, match=r"call fit\(jobs, features, outcomes, callbacks\) first"):
        PracticeAudit().table()
