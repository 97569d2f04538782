"""Ranges hold what they promise at every size of the book: many invented books of each size, pooled.

Every book is drawn afresh, so that the limits are those of the law: jobs tested are binomial given a book's coverage,
and a book's coverage is Beta given its n calibration jobs, with variance p·(1 − p) / (n + 2). More sizes and worlds:
`tests/benchmarks/studies/study_sizes.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from models.quote.base.past_jobs import history
from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import SPECS
from models.quote.estimator.fit_target import learn_target
from models.quote.estimator.rules import typical_rule
from models.scores import coverage_of_pit
from pipeline.store.book import Book, read_table
from tests.models.quote.conftest import Planter

TESTED = 60


def _pit_and_calibrated(planter: Callable, jobs: int, books: int, target: Target) -> tuple[np.ndarray, int]:  # type: ignore[type-arg]
    """PIT of `TESTED` later jobs of each book, pooled, and the calibration jobs of one book."""
    found, calibrated = [], 0
    for seed in range(books):
        planted = planter(jobs + TESTED, seed=1000 * jobs + seed)
        past = history(planted.features, planted.outcomes)
        y, draws = past.targets[target], np.random.default_rng(seed).uniform(size=TESTED)
        model = learn_target(SPECS[target], past.x[:jobs], y[:jobs], past.days[:jobs]).model
        found.append(model.pit(past.x[jobs:], y[jobs:], draws))
        calibrated = model.calibration_jobs
    return np.concatenate(found), calibrated


def _limits(claimed: float, calibrated: int, books: int) -> tuple[float, float]:
    spread = claimed * (1 - claimed) / books
    three = 3 * np.sqrt(spread / TESTED + spread / (calibrated + 2))
    return claimed - three, claimed + 2 / (calibrated + 1) + three


@pytest.mark.parametrize(
    ("jobs", "books", "target"),
    [
        (10, 40, "magnetite_kg"),
        (10, 40, "non_magnetic_kg"),
        (10, 40, "site_minutes"),
        (40, 6, "magnetite_kg"),
        (40, 6, "flush_minutes"),
        (100, 4, "magnetite_kg"),
        (400, 2, "magnetite_kg"),
    ],
)
def test_80_and_90_per_cent_hold_over_many_books(planter: Planter, jobs: int, books: int, target: Target) -> None:
    pit, calibrated = _pit_and_calibrated(planter, jobs, books, target)
    cover = coverage_of_pit(pit)

    for claimed, share in ((0.8, cover.share_80), (0.9, cover.share_90)):
        low, high = _limits(claimed, calibrated, books)
        assert share >= low
        # ten scores reach 80 %; the 90 % of so few is the typical rule's, as wide as that
        assert share <= high or (jobs, claimed) == (10, 0.9)


@pytest.mark.parametrize("jobs", [1, 4])
def test_a_handful_of_jobs_promises_no_more_than_it_holds(planter: Planter, jobs: int) -> None:
    for target in ("magnetite_kg", "flush_minutes"):
        cover = coverage_of_pit(_pit_and_calibrated(planter, jobs, 30, target)[0])

        # three standard errors; a book's own coverage varies as after one job at most
        assert cover.share_80 >= 0.8 - 3 * np.sqrt(0.16 / 30 / 3)
        assert cover.share_90 >= 0.9 - 3 * np.sqrt(0.09 / 30 / 3)


@pytest.mark.parametrize("world", ["neglected_stock", "two_speeds"])
def test_without_a_job_the_typical_rule_is_wide_enough_for_worlds_far_from_it(world: str, tmp_path: Path) -> None:
    from pipeline.intake.load import load
    from synthetic_data.simulate import simulate_to_folder

    simulate_to_folder(tmp_path / "logs", jobs=80, seed=8, scenario=world, format="parquet", progress=None)
    book = Book(tmp_path / "book")
    load([tmp_path / "logs"], book)
    past = history(*(read_table(book.current(), name) for name in ("ftr_quote", "ftr_outcome")))
    for target in TARGETS:
        y = past.targets[target]
        known = np.isfinite(y)
        draws = np.random.default_rng(1).uniform(size=known.sum())
        cover = coverage_of_pit(typical_rule(SPECS[target]).pit(past.x[known], y[known], draws))

        assert cover.share_80 >= 0.8 - 2 * np.sqrt(0.16 / cover.jobs), target
        assert cover.share_90 >= 0.9 - 2 * np.sqrt(0.09 / cover.jobs), target
