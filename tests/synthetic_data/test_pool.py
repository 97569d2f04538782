"""Sixty firms: unequal sizes, unlike habits, ids of their own."""

import numpy as np
import polars as pl
import pytest

from synthetic_data.crew.crew import hire
from synthetic_data.crew.diary import firm_sizes, make_diary
from synthetic_data.parameters import CrewParameters, Parameters
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_to_folder
from synthetic_data.streams import stream


@pytest.fixture(scope="module")
def pooled(tmp_path_factory):
    """800 jobs of the pool: the jobs table."""
    out = tmp_path_factory.mktemp("pool") / "logs"
    written = simulate_to_folder(out, jobs=800, seed=3, scenario="pool", format="parquet")
    return pl.read_parquet(written.out / "jobs.parquet")


def test_there_are_sixty_firms_and_every_id_is_marked_as_simulated():
    ids = SCENARIOS["pool"].firm_ids

    assert len(set(ids)) == 60
    assert all(name.startswith("sim-") for name in ids)


def test_sizes_add_up_and_are_very_unequal():
    sizes = firm_sizes(stream(1, "firms"), 6000, 60)

    assert sizes.sum() == 6000
    assert sizes.min() >= 5
    assert sizes.max() > 10 * np.median(sizes) / 2 > 5 * sizes.min()
    assert (np.diff(sizes) <= 0).all()


@pytest.mark.parametrize(("jobs", "firms"), [(7, 60), (60, 60), (61, 60), (999, 60), (25, 1)])
def test_no_job_is_lost_however_few_there_are(jobs, firms):
    assert firm_sizes(stream(2, "firms"), jobs, firms).sum() == jobs
    assert len(make_diary(jobs, 2, Parameters(), firms).visit_date) == jobs


def test_jobs_are_counted_firm_by_firm(pooled):
    numbers = pooled.group_by("firm_id").agg(
        pl.len().alias("jobs"), pl.col("job_id").n_unique().alias("ids"), pl.col("job_id").max().alias("last")
    )

    assert numbers.height == 60
    assert (numbers["jobs"] == numbers["ids"]).all()
    assert (numbers["last"].str.slice(1).cast(pl.Int64) == numbers["jobs"]).all()


def test_an_engineer_belongs_to_one_firm():
    diary = make_diary(3000, 4, Parameters(), 60)

    assert (diary.firm_of_engineer[diary.engineer] == diary.firm).all()
    for firm in range(60):
        numbers = diary.number_of_engineer[diary.firm_of_engineer == firm]
        assert numbers.tolist() == list(range(1, len(numbers) + 1))


def test_engineers_of_a_firm_are_more_alike_than_engineers_at_large():
    firm = np.repeat(np.arange(60), 20)
    staff = hire(np.random.default_rng(5), firm, CrewParameters(firm_sd=1.5, habit_sd=0.5), 0.75, 0.3)
    within = np.mean([staff.focus[firm == each].std() for each in range(60)])

    # planted: 0.5 within, √(0.5² + 1.5²) = 1.58 at large
    assert within == pytest.approx(0.5, rel=0.1)
    assert staff.focus.std() == pytest.approx(1.58, rel=0.25)


def test_firms_differ_in_what_they_do(pooled):
    shares = pooled.group_by("firm_id").agg(pl.len(), (pl.col("isolation") == "one_at_a_time").mean().alias("share"))
    large = shares.filter(pl.col("len") >= 15)["share"]

    # by chance alone a share of 0.7 from 15 jobs would scatter by 0.12
    assert large.std() > 0.14
