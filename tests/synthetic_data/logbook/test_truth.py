"""The truth tells flows, scales and risks as they were, and stays out of the log."""

import numpy as np
import polars as pl
import pytest

from pipeline.contract import JOB_LOG
from synthetic_data.house.house import ONE_PIPE
from synthetic_data.logbook.jobs_table import write_tables
from synthetic_data.logbook.truth import truth_rows
from synthetic_data.logbook.visit_tables import scale_factor
from synthetic_data.streams import stream


@pytest.fixture(scope="module")
def truth(chunk):
    return truth_rows(chunk)


@pytest.fixture(scope="module")
def drifting(drawn):
    """500 jobs weighed on scales that drift."""
    return drawn("drifting_scales", 500, 11)[0]


def test_no_column_of_the_truth_but_the_keys_is_in_the_log(truth):
    log = {column for table in JOB_LOG.values() for column in table.names}

    assert set(truth.columns) & log == {"firm_id", "job_id", "emitter_no"}


def test_an_emitter_gets_more_in_its_own_turn_than_with_all_open(truth, chunk):
    # not on a one-pipe loop: there the flow goes past all of them one after the other
    alone = np.repeat((chunk.plans.isolation == 0) & (chunk.houses.layout != ONE_PIPE), chunk.houses.emitter_count)
    own, shared = truth["flow_own_turn_l_min"].to_numpy()[alone], truth["flow_all_open_l_min"].to_numpy()[alone]

    assert (shared > 0).all()
    assert (own >= shared * (1 - 1e-6)).all()
    assert np.median(own / shared) > 1.5


def test_flows_of_one_house_together_fit_through_the_machine(truth, chunk):
    together = truth.group_by("job_id", maintain_order=True).agg(pl.col("flow_all_open_l_min").sum())
    branches, machine = chunk.houses.layout != ONE_PIPE, chunk.staff.machine_l_min[chunk.plans.engineer]

    assert (together["flow_all_open_l_min"].to_numpy()[branches] <= machine[branches] * 1.001).all()


def test_debris_first_is_never_likelier_than_debris_at_all(truth):
    assert (truth["job_debris_first_risk_365"] <= truth["job_debris_risk_365"] + 1e-12).all()
    assert (truth["job_debris_first_risk_365"] > 0.5 * truth["job_debris_risk_365"]).mean() > 0.95


def test_scales_show_what_is_there_unless_they_drift(chunk, drifting):
    factor = scale_factor(drifting)

    assert (scale_factor(chunk) == 1.0).all()
    assert 0.02 < np.log(factor).std() < 0.4
    assert len(np.unique(drifting.plans.engineer)) > 2


def test_a_drifting_scale_is_in_every_mass_and_in_nothing_else(drifting, chunk):
    (off, right) = (
        write_tables(stream(11, "gaps"), stream(11, "readings"), chunk)["catches"].drop("firm_id")
        for chunk in (drifting, chunk)
    )
    both = pl.concat([off, right.select(right_g="mass_g")], how="horizontal").filter(pl.col("right_g") > 400)
    factor = pl.DataFrame(
        {"job_id": truth_rows(drifting)["job_id"].unique(maintain_order=True), "factor": scale_factor(drifting)}
    )
    both = both.join(factor, on="job_id")
    error = (both["mass_g"] / both["right_g"] / both["factor"]).to_numpy()

    assert off.drop("mass_g").equals(right.drop("mass_g"))
    assert both.height > 50
    # the scale's step of at most 20 g, twice, on more than 400 g
    assert np.abs(error - 1).max() < 0.06
