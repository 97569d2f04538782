"""Faults are planted where the truth says, and nowhere else."""

import numpy as np
import polars as pl
import pytest

from synthetic_data.flush import faults
from synthetic_data.flush.faults import FAULTS
from synthetic_data.house.house import TWO_PIPE
from synthetic_data.logbook.jobs_table import write_tables
from synthetic_data.logbook.logbook import job_ids
from synthetic_data.logbook.truth import truth_rows
from synthetic_data.parameters import FaultParameters
from synthetic_data.streams import stream


@pytest.fixture(scope="module")
def faulty(drawn):
    """500 jobs, every third with a fault."""
    return drawn("faulty_days", 500, 11)[0]


def test_a_third_of_the_jobs_has_a_fault_and_every_kind_is_there(faulty):
    kind = faulty.setting.faults.kind

    # four standard errors of a share from 500 jobs
    assert (kind > 0).mean() == pytest.approx(1 / 3, abs=4 * np.sqrt(2 / 9 / 500))
    assert set(np.unique(kind)) == set(range(len(FAULTS)))


def test_other_worlds_have_none(chunk):
    assert (chunk.setting.faults.kind == 0).all()
    assert set(truth_rows(chunk)["job_fault"]) == {"none"}
    assert truth_rows(chunk)["job_fault_from"].null_count() == truth_rows(chunk).height


def test_the_truth_says_which_job_and_from_when(faulty):
    truth = truth_rows(faulty).unique("job_id", maintain_order=True)
    planted = truth.filter(truth["job_fault"] != "none")
    start = dict(zip(truth["job_id"], faulty.flush.start_min, strict=True))

    assert truth["job_fault"].to_list() == [FAULTS[kind] for kind in faulty.setting.faults.kind]
    assert planted["job_fault_from"].null_count() == 0
    for job, begins, kind in planted.select("job_id", "job_fault_from", "job_fault").iter_rows():
        late = begins.hour * 60 + begins.minute - start[job]
        assert (late >= 30) == (kind in ("filling_strainer", "weeping_joint"))


def test_kinds_come_in_equal_parts():
    drawn = faults.draw_faults(np.random.default_rng(1), 60_000, FaultParameters(faulty_share=1.0))
    counts = np.bincount(drawn.kind, minlength=len(FAULTS))

    assert counts[0] == 0
    # five standard errors of a binomial count
    assert counts[1:] == pytest.approx(np.full(6, 10_000), abs=5 * np.sqrt(60_000 * 5 / 36))


@pytest.fixture(scope="module")
def sound(chunk):
    """The same 500 jobs without the faults: same houses, crews and noise."""
    return chunk


@pytest.fixture(scope="module")
def logs(faulty, sound):
    """Readings and catches as written of both, by name."""
    return {
        name: write_tables(stream(11, "gaps"), stream(11, "readings"), chunk)
        for name, chunk in (("faulty", faulty), ("sound", sound))
    }


def jobs_with(chunk, kind):
    return job_ids(chunk)[chunk.setting.faults.kind == FAULTS.index(kind)]


def by_job(frame, jobs, value):
    """Value of each of the jobs that has one, in order."""
    found = frame.filter(pl.col("job_id").is_in(jobs)).group_by("job_id").agg(value.alias("value")).sort("job_id")
    return dict(found.drop_nulls().iter_rows())


def both(logs, jobs, table, value):
    """The value of each job with the fault and without it."""
    first, second = (by_job(logs[name][table], jobs, value) for name in ("faulty", "sound"))
    shared = sorted(first.keys() & second.keys())
    return np.array([first[job] for job in shared]), np.array([second[job] for job in shared])


def test_a_job_without_a_fault_is_the_job_of_the_usual_world(faulty, sound):
    free = faulty.setting.faults.kind == 0

    assert (faulty.flush.end_min[free] == sound.flush.end_min[free]).all()
    assert faulty.flush.end.caught[free] == pytest.approx(sound.flush.end.caught[free], abs=1e-12)


def test_a_throttled_connection_shows_in_the_flow(faulty, logs):
    first, second = both(logs, jobs_with(faulty, "throttled_connection"), "readings", pl.col("flow_l_min").median())

    assert len(first) > 15
    assert np.median(first / second) < 0.6


def test_a_filling_strainer_shows_in_flow_that_falls_away_unless_someone_looks_into_it(faulty, logs):
    fall = pl.col("flow_l_min").drop_nulls().tail(3).mean() / pl.col("flow_l_min").drop_nulls().head(2).mean()
    looks = set(job_ids(faulty)[faulty.plans.strainer_checked])
    filling = jobs_with(faulty, "filling_strainer")
    seen, left = ([job for job in filling if (job in looks) == is_seen] for is_seen in (True, False))
    falls = [np.median(np.divide(*both(logs, jobs, "readings", fall))) for jobs in (seen, left)]

    assert min(len(seen), len(left)) > 5
    # left alone for an hour it holds 1.5 capacities: 1 / √(1 + 1.5²) = 0.55 of the flow; emptied at 0.75 it is above
    assert falls[1] < 0.65 < falls[0]


def test_a_weeping_joint_shows_in_the_pressure(faulty, logs, sound):
    sealed = job_ids(sound)[~sound.houses.vented]
    jobs = [job for job in jobs_with(faulty, "weeping_joint") if job in set(sealed)]
    fall = pl.col("pressure_bar").drop_nulls().last() - pl.col("pressure_bar").drop_nulls().first()
    first, second = both(logs, jobs, "readings", fall)

    assert len(first) > 5
    assert np.median(first - second) < -0.15


def test_a_sand_load_shows_in_strainer_and_machine_base(faulty, logs):
    load = pl.col("mass_g").filter(pl.col("trap") != "magnet").sum()
    first, second = both(logs, jobs_with(faulty, "sand_load"), "catches", load)

    assert first.sum() > 3 * second.sum() > 0


def test_a_full_trap_shows_in_few_weighings(faulty, logs):
    first, second = both(logs, jobs_with(faulty, "full_trap"), "catches", pl.len())

    assert np.median(first / second) < 0.5


def test_a_bypass_is_taken_for_two_pipe_and_gives_less_in_the_same_house(faulty, sound, logs):
    jobs = jobs_with(faulty, "one_pipe_bypass")
    written = logs["faulty"]["jobs"].filter(pl.col("job_id").is_in(jobs))["pipe_layout"].drop_nulls()
    rows = faulty.setting.faults.has(faults.BYPASS) & (sound.houses.layout == TWO_PIPE)
    own_turn = [chunk.outcome.flows.branch[1, 0][:500][rows][chunk.houses.present[rows]] for chunk in (faulty, sound)]

    assert set(written) == {"two_pipe"}
    assert truth_rows(faulty).filter(pl.col("job_id").is_in(jobs))["job_is_one_pipe"].all()
    assert np.median(own_turn[0]) < 0.7 * np.median(own_turn[1])


def test_a_weeping_joint_leaks_more_often_afterwards(faulty, sound):
    weeps = faulty.setting.faults.has(faults.WEEP)

    # boiler fault, leak, other
    assert (faulty.others_per_year[weeps, 1] / sound.others_per_year[weeps, 1]) == pytest.approx(
        faulty.parameters.faults.weep_leak_ratio
    )
