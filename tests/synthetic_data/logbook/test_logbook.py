"""What is written down keeps the contract of the job log, whatever the scenario."""

from datetime import timedelta

import polars as pl
import pytest

from pipeline.contract import JOB_LOG, SIMULATED_PREFIX
from pipeline.contract.job_totals import COUNTED, PUT_IN, TOTALS
from synthetic_data.logbook.jobs_table import write_tables
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.streams import stream

TYPES = {
    "text": pl.String,
    "choice": pl.String,
    "yes_no": pl.Boolean,
    "date": pl.Date,
    "time": pl.Datetime("us"),
    "integer": pl.Int64,
    "number": pl.Float64,
}


JOB = ["firm_id", "job_id"]


@pytest.fixture(scope="module", params=sorted(SCENARIOS))
def tables(request, drawn):
    chunk = drawn(request.param, 100, 8)[0]
    return write_tables(stream(8, "gaps"), stream(8, "readings"), chunk)


def test_tables_and_columns_are_those_of_the_contract_in_order(tables):
    assert {name: frame.columns for name, frame in tables.items()} == {
        name: list(table.names) for name, table in JOB_LOG.items()
    }


def faults_of(column, values):
    """What a value of a column breaks; a clean log raises no warnings either."""
    known = values.drop_nulls()
    low = max((bound for bound in (column.low, column.warn_low) if bound is not None), default=None)
    high = min((bound for bound in (column.high, column.warn_high) if bound is not None), default=None)
    broken = {
        "type": values.dtype != TYPES[column.kind],
        "required": column.required and values.null_count() > 0,
        "choices": bool(column.choices) and not set(known) <= set(column.choices),
        "low": low is not None and not known.is_empty() and known.min() < low,
        "high": high is not None and not known.is_empty() and known.max() > high,
    }
    return [name for name, is_broken in broken.items() if is_broken]


@pytest.mark.parametrize("table", sorted(JOB_LOG))
def test_every_value_keeps_its_type_range_and_choices(tables, table):
    found = {column.name: faults_of(column, tables[table][column.name]) for column in JOB_LOG[table].columns}

    assert {name: faults for name, faults in found.items() if faults} == {}


@pytest.mark.parametrize("table", sorted(JOB_LOG))
def test_keys_are_unique_and_firms_are_marked_as_simulated(tables, table):
    keys = tables[table].select(JOB_LOG[table].key)

    assert keys.is_duplicated().sum() == 0
    assert keys.null_count().sum_horizontal().item() == 0
    assert tables[table]["firm_id"].str.starts_with(SIMULATED_PREFIX).all()


@pytest.mark.parametrize("table", ["emitters", "pipe_runs", "catches", "readings", "callbacks"])
def test_every_row_belongs_to_a_job(tables, table):
    assert tables[table].join(tables["jobs"], on=JOB, how="anti").is_empty()


def test_dates_of_a_job_keep_their_rules(tables):
    jobs = tables["jobs"].with_columns(year=pl.col("visit_date").dt.year())
    started, ended = pl.col("flush_started_at"), pl.col("flush_ended_at")

    assert jobs.filter(started.dt.date() < pl.col("visit_date")).is_empty()
    assert jobs.filter((ended <= started) | (ended - started > timedelta(days=5))).is_empty()
    assert jobs.filter((pl.col("arrived_at") > started) | (pl.col("left_at") < ended)).is_empty()
    assert jobs.filter(pl.col("predosed_on") > pl.col("visit_date")).is_empty()
    assert jobs.filter(pl.col("visit_date") - pl.col("predosed_on") > timedelta(days=90)).is_empty()
    assert jobs.filter(pl.max_horizontal("install_year", "last_cleaned_year") > pl.col("year")).is_empty()
    assert jobs.filter(pl.col("followed_until") < pl.col("visit_date")).is_empty()


@pytest.mark.parametrize(("table", "time"), [("catches", "caught_at"), ("readings", "read_at")])
def test_catches_and_readings_lie_within_the_flush(tables, table, time):
    joined = tables[table].join(tables["jobs"], on=JOB)
    outside = (pl.col(time) < pl.col("flush_started_at")) | (pl.col(time) > pl.col("flush_ended_at"))

    assert joined.filter(outside).is_empty()


@pytest.mark.parametrize("table", ["catches", "readings"])
def test_the_emitter_in_focus_is_one_of_the_house(tables, table):
    focus = tables[table].drop_nulls("focus_emitter_no")
    known = tables["emitters"].select(*JOB, focus_emitter_no="emitter_no")

    assert not focus.is_empty()
    assert focus.join(known, on=[*JOB, "focus_emitter_no"], how="anti").is_empty()


def test_a_dry_weighing_stands_beside_its_wet_one_and_is_lighter(drawn):
    chunk = drawn("usual", 250, 8)[0]
    catches = write_tables(stream(8, "gaps"), stream(8, "readings"), chunk)["catches"]
    dry = catches.filter(weighed="dry")
    pairs = dry.join(catches.filter(weighed="wet"), on=[*JOB, "caught_at", "trap"])

    assert pairs.height == dry.height > 20
    ratio = pairs["mass_g_right"] / pairs["mass_g"]
    # planted 1.9, houses scatter by 13 %, weighings by 6 % and by the step of the scale
    assert ratio.median() == pytest.approx(1.9, rel=0.1)


def test_catches_are_numbered_in_order_of_time(tables):
    catches = tables["catches"]
    numbered = catches.with_columns(expected=pl.int_range(1, pl.len() + 1).over(JOB))

    assert (numbered["catch_no"] == numbered["expected"]).all()
    assert catches.group_by(JOB, maintain_order=True).agg(pl.col("caught_at").is_sorted())["caught_at"].all()


def test_lazy_loggers_leave_more_cells_empty_than_others(drawn):
    empty = {}
    for name in ("usual", "lazy_loggers"):
        chunk = drawn(name, 250, 8)[0]
        jobs = write_tables(stream(8, "gaps"), stream(8, "readings"), chunk)["jobs"]
        jobs = jobs.drop(column.name for column in (*COUNTED, *PUT_IN, *TOTALS))  # few crews keep them at all
        empty[name] = jobs.null_count().sum_horizontal().item() / jobs.height

    assert empty["lazy_loggers"] > 1.5 * empty["usual"]
