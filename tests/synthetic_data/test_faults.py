"""Faults are planted where the truth says, and nowhere else."""

import numpy as np
import pytest

from synthetic_data import faults
from synthetic_data.faults import FAULTS
from synthetic_data.parameters import FaultParameters
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks
from synthetic_data.truth import truth_rows


@pytest.fixture(scope="module")
def faulty():
    """500 jobs, every third with a fault."""
    return next(simulate_chunks(SCENARIOS["faulty_days"], jobs=500, seed=11))


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
