"""The frames behind the pictures of a firm add up to what the truth and the logs say."""

from __future__ import annotations

import polars as pl
import pytest

from pipeline.contract.findings import BadInput
from synthetic_data.illustrations.distributions import LOOKS, FirmDistributions, firm_distributions
from synthetic_data.logbook.truth import truth_rows

JOBS = 240


@pytest.fixture(scope="module")
def firm() -> FirmDistributions:
    return firm_distributions("usual", 7, JOBS)


@pytest.fixture(scope="module")
def truth(drawn) -> pl.DataFrame:
    return pl.concat([truth_rows(chunk) for chunk in drawn("usual", JOBS, 7)])


def test_kilograms_are_those_of_the_truth_file(firm, truth):
    by_job = truth.group_by("job_id", maintain_order=True).agg(
        pl.col("caught_kg", "strainer_kg", "residual_kg").sum(), pl.col("job_magnetite_before_kg").first()
    )

    assert firm.jobs["job_id"].to_list() == by_job["job_id"].to_list()
    assert firm.jobs["caught_kg"].to_numpy() == pytest.approx((by_job["caught_kg"] + by_job["strainer_kg"]).to_numpy())
    assert firm.jobs["left_kg"].to_numpy() == pytest.approx(by_job["residual_kg"].to_numpy())
    assert firm.jobs["before_kg"].to_numpy() == pytest.approx(by_job["job_magnetite_before_kg"].to_numpy())


def test_looks_are_thirds_and_shares_are_of_them(firm):
    assert firm.jobs["looks"].value_counts()["count"].to_list() == [JOBS // 3] * 3
    assert firm.practices["jobs"].to_list() == [JOBS // 3] * firm.practices.height
    assert firm.practices["looks"].to_list()[:3] == list(LOOKS)


def test_the_worse_it_looks_the_more_is_done(firm):
    predosed = firm.practices.filter(pl.col("practice") == "chemical in days before")["share"].to_list()

    # logit −0.2 + 1.8 · 2.6 · (looks − ½): from a third to three quarters and more
    assert predosed == sorted(predosed)
    assert predosed[2] - predosed[0] > 0.2


def test_flush_minutes_leave_nights_out(firm):
    minutes, days = firm.jobs["flush_minutes"], firm.jobs["days_on_site"]

    # nobody flushes for half a day and night on one day; over a night the wall clock runs on for that much
    assert (minutes < 12 * 60 * days).all()
    assert days.max() > 1
    assert minutes.min() > 10


def test_callbacks_are_counted_once_a_job(firm):
    calls = firm.callbacks

    assert calls["followed"].n_unique() == 1
    assert calls["jobs"].sum() < calls["followed"][0] <= JOBS
    assert calls["share"].to_numpy() == pytest.approx((calls["jobs"] / calls["followed"]).to_numpy())


def test_what_cannot_be_is_refused():
    with pytest.raises(BadInput, match="no scenario"):
        firm_distributions("nowhere", 1, 10)
    with pytest.raises(BadInput, match="At least one job"):
        firm_distributions("usual", 1, 0)
