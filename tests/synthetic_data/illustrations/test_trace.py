"""A traced job is the job of the logs, and its debris is accounted for at every minute."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipeline.contract.findings import BadInput
from synthetic_data.chunk import Chunk
from synthetic_data.flush.flush_state import DONE, MAGNET
from synthetic_data.illustrations.trace import JobTrace, trace_job
from synthetic_data.logbook.jobs_table import write_tables
from synthetic_data.logbook.truth import truth_rows
from synthetic_data.streams import stream

# the flow solver stops a little earlier or later where it solves one house, not hundreds
AGREES = 1e-6
WORLDS = {"usual": (500, 11), "faulty_days": (60, 4), "pool": (1020, 6)}
PICKS = [("usual", 1), ("usual", 37), ("usual", 120), ("faulty_days", 5), ("faulty_days", 8), ("pool", 1013)]
OVER_THE_EDGE = ("pool", 1013)
"""In the second chunk of its run, which takes a thousand jobs to reach: left to the study."""


def picked(pick):
    marks = pytest.mark.study if pick == OVER_THE_EDGE else ()
    return pytest.param(pick, marks=marks, id=f"{pick[0]}-{pick[1]}")


@pytest.fixture(scope="module", params=[picked(pick) for pick in PICKS])
def pair(request: pytest.FixtureRequest, drawn) -> tuple[JobTrace, Chunk, int]:
    """A traced job, the chunk of the whole run that holds it, and its row there."""
    name, job = request.param
    jobs, seed = WORLDS[name]
    chunk = next(c for c in drawn(name, jobs, seed) if c.rows.start < job <= c.rows.stop)
    return trace_job(name, seed, job, jobs=jobs), chunk, job - 1 - chunk.rows.start


def test_the_weighings_are_those_of_the_whole_run(pair):
    trace, chunk, row = pair
    w = chunk.flush.weighings
    here = np.flatnonzero(w.row == row)

    assert trace.weighings.wall_min.tolist() == w.wall_min[here].tolist()
    assert trace.weighings.focus.tolist() == w.focus[here].tolist()
    assert trace.weighings.trap.tolist() == w.trap[here].tolist()
    assert trace.weighings.wet_kg == pytest.approx(w.wet_kg[here], rel=AGREES, abs=1e-9)


def test_what_is_left_and_caught_by_emitter_is_what_the_truth_file_says(pair):
    trace, chunk, row = pair
    truth = truth_rows(chunk)
    own = truth.filter(pl.Series(np.nonzero(chunk.houses.present)[0] == row))

    last = {name: getattr(trace.magnetite, name)[-1] for name in ("left_kg", "caught_kg", "strained_kg", "rinsed_kg")}
    assert own["emitter_no"].to_list() == trace.emitter_no.tolist()
    for name, column in zip(last, ("residual_kg", "caught_kg", "strainer_kg", "rinsed_kg"), strict=True):
        assert last[name] == pytest.approx(own[column].to_numpy(), rel=AGREES, abs=1e-8)
    assert trace.other.left_kg[-1] == pytest.approx(own["non_magnetic_residual_kg"].to_numpy(), rel=AGREES, abs=1e-8)


@pytest.mark.parametrize("kind", ["magnetite", "other"])
def test_debris_is_conserved_at_every_minute_and_emitter(pair, kind):
    trace = pair[0]
    pools = getattr(trace, kind)
    before = trace.other_before_kg if kind == "other" else trace.loose_before_kg + trace.consolidated_before_kg

    gone = pools.left_kg + pools.out_kg + pools.rinsed_kg - pools.moved_in_kg
    assert np.abs(gone - before).max() < 1e-9
    assert np.abs(pools.moved_in_kg.sum(axis=1)).max() < 1e-9
    assert before.sum() > 0


def test_minutes_run_from_the_first_flow_to_the_end_of_the_rinse(pair):
    trace, chunk, row = pair

    assert trace.minutes.tolist() == list(range(len(trace.minutes)))
    assert trace.clock_min[0] == chunk.plans.start_min[row]
    assert trace.clock_min[-1] == chunk.flush.end_min[row]
    assert (trace.phase == DONE).nonzero()[0].tolist() == [len(trace.minutes) - 1]
    assert np.diff(trace.magnetite.out_kg.sum(axis=1)).min() > -1e-12
    assert trace.flow_l_min[1:-1].min() > 0.1


def test_the_logged_masses_are_the_traced_ones_within_the_error_of_weighing(chunk):
    catches = write_tables(stream(1, "gaps"), stream(1, "readings"), chunk)["catches"]
    magnet = catches.filter((pl.col("trap") == "magnet") & (pl.col("weighed").fill_null("wet") == "wet"))
    for job in (3, 37, 90):
        trace = trace_job("usual", 11, job, jobs=500)
        logged = magnet.filter(pl.col("job_id") == f"J{job:05d}")["mass_g"].sum() / 1000
        wet = float(trace.magnetite.caught_kg[-1].sum() * trace.plans.wet_ratio[0])
        weighings = int((trace.weighings.trap == MAGNET).sum())

        # 6 % a weighing, independent, and half a step of 20 g: four standard errors of the sum
        assert logged == pytest.approx(wet, abs=4 * (0.06 * wet / weighings**0.5 * 1.5 + 0.006 * weighings**0.5))
        assert wet > 0.1


def test_a_job_that_is_not_there_is_refused_in_a_sentence():
    with pytest.raises(BadInput, match="between 1 and 25; 26"):
        trace_job("new_firm", 1, 26)
    with pytest.raises(BadInput, match="no scenario 'nowhere'"):
        trace_job("nowhere", 1, 1)
