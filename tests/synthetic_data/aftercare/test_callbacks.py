"""Return visits follow their hazards, compete, and stop where follow-up stops."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.contract.job_log import CAUSES
from synthetic_data.aftercare import callbacks
from synthetic_data.aftercare.aftercare import Course
from synthetic_data.parameters import AftercareParameters

USUAL = AftercareParameters()
JOBS = 10_000


def constant(emitter, source, jobs=JOBS, months=66):
    """A course of constant hazards a year."""
    years = np.arange(months + 1)[None, :] / 12
    nothing = np.zeros(jobs)
    return Course(np.full((jobs, 1), emitter) * years, np.full((jobs, 1), source) * years, *(nothing,) * 5)


def draw(chunk, course, others=(0.0, 0.0, 0.0), days=365, p=USUAL, early=np.inf):
    houses = replace(chunk.houses, layout=np.resize(chunk.houses.layout, JOBS))
    rates = np.tile(np.array(others), (JOBS, 1))
    last, followed = np.zeros(JOBS, dtype=np.int64), np.full(JOBS, days)
    return callbacks.call_back(np.random.default_rng(1), houses, course, rates, last, followed, p, np.full(JOBS, early))


@pytest.mark.parametrize("hazard", [0.05, 0.3])
def test_the_share_called_back_in_a_year_is_that_of_the_hazard(chunk, hazard):
    share = len(np.unique(draw(chunk, constant(hazard / 3, 2 * hazard / 3)).row)) / JOBS
    expected = 1 - np.exp(-hazard * 365 / 365.25)

    # three standard errors of a share from 10 000 jobs
    assert share == pytest.approx(expected, abs=3 * np.sqrt(expected * (1 - expected) / JOBS))


def test_other_causes_come_by_their_own_hazards(chunk):
    calls = draw(chunk, constant(0.0, 0.0), others=(0.1, 0.05, 0.02))
    causes = np.array(CAUSES)[calls.cause]

    for cause, hazard in (("boiler_fault", 0.1), ("leak", 0.05), ("other", 0.02)):
        # Poisson count: four standard errors
        assert (causes == cause).sum() == pytest.approx(hazard * JOBS, abs=4 * np.sqrt(hazard * JOBS))
    assert not calls.is_debris.any()


def test_what_the_clean_laid_bare_leaks_within_weeks_and_the_more_the_older_the_steel(chunk):
    """Chance 0.012 + 0.0004 a year of age; found within 30 days: 1 − e^(−30/12) of them."""
    houses = replace(chunk.houses, age_years=np.repeat([0, 50], JOBS))
    days = callbacks.early_leak_days(np.random.default_rng(1), houses, USUAL).reshape(2, JOBS)

    for row, chance in zip(days, (0.012, 0.032), strict=True):
        assert np.isfinite(row).mean() == pytest.approx(chance, abs=3 * np.sqrt(chance / JOBS))
        assert (row <= 30).mean() == pytest.approx(chance * (1 - np.exp(-30 / 12)), abs=3 * np.sqrt(chance / JOBS))


def test_an_early_leak_is_a_leak_and_no_debris(chunk):
    calls = draw(chunk, constant(0.0, 0.0), early=9.5)

    assert len(calls.row) == JOBS
    assert set(calls.days.tolist()) == {10}
    assert set(np.array(CAUSES)[calls.cause]) == {"leak"}
    assert not calls.is_debris.any()


def test_debris_first_falls_short_of_debris_at_all_by_what_comes_before_it(chunk):
    days, others = np.full(JOBS, 365.25), np.tile([0.3, 0.1, 0.0], (JOBS, 1))
    first = callbacks.debris_first_risk(constant(0.2, 0.0), others, days)

    # closed form of competing constant hazards: h/(h+o) · (1 − e^(−(h+o)))
    assert first == pytest.approx(0.2 / 0.6 * (1 - np.exp(-0.6)))


def test_debris_first_of_all_is_drawn_as_often_as_its_incidence_says(chunk):
    calls = draw(chunk, constant(0.3, 0.2), others=(0.4, 0.1, 0.1))
    rows, at = np.unique(calls.row, return_index=True)
    share = calls.is_debris[at].sum() / JOBS
    expected = 0.5 / 1.1 * (1 - np.exp(-1.1 * 365 / 365.25))

    # calls are in order of job and day; three standard errors
    assert len(rows) > 3000
    assert share == pytest.approx(expected, abs=3 * np.sqrt(expected * (1 - expected) / JOBS))


def test_someone_cleans_again_after_a_debris_callback(chunk):
    course = constant(1.0, 0.0)
    seconds = [
        len(draw(chunk, course, p=replace(USUAL, after_debris=after)).row) - JOBS * (1 - np.exp(-365 / 365.25))
        for after in (1.0, 0.25)
    ]

    assert 0 < seconds[1] < 0.45 * seconds[0]


def test_debris_shows_by_where_it_sits(chunk):
    emitter, source = (draw(chunk, course).cause for course in (constant(0.5, 0.0), constant(0.0, 0.5)))

    assert set(np.array(CAUSES)[emitter]) == {"cold_emitter", "blockage"}
    assert set(np.array(CAUSES)[source]) == {"noise", "pump", "blockage", "boiler_fault"}


def test_callbacks_lie_between_the_last_day_on_site_and_the_end_of_follow_up(chunk):
    calls = chunk.callbacks

    assert len(calls.row) > 50
    assert (calls.days <= chunk.followed_days[calls.row]).all()
    assert (calls.days > chunk.outcome.last_day[calls.row]).all()


def test_follow_up_ends_with_the_window_or_earlier(chunk):
    until = (np.datetime64(chunk.parameters.followed_until) - chunk.visit_date).astype(int)
    share = (chunk.followed_days < until).mean()

    assert (chunk.followed_days <= until).all()
    # 0.05 a year, twice in flats, over some 2.7 years on average
    assert 0.06 < share < 0.25
    assert (chunk.followed_days < 365).any()
    assert (chunk.followed_days > 3 * 365).any()
