"""Features and warnings come out the same to the last digit, in whatever order rows lie or threads add them."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipeline.build import FEATURE_STEPS, attach_settings, no_pairs, put_table, run_steps
from pipeline.contract import BUILT, JOB_LOG
from pipeline.contract.firm import Firm
from pipeline.store.book import Book, new_build, read_arrow

WARNING_STEPS = (
    "core/logged_days",
    "core/site_days",
    "staging/stg_day_warnings",
    "staging/stg_catch_warnings",
    "staging/stg_reading_hours",
    "staging/stg_reading_warnings",
    "core/job_warnings",
)
MADE = [name for name in BUILT if name.startswith("ftr_") or name == "job_warnings"]
ROWS_A_THREAD_TAKES = 122_880
Core = dict[str, pl.DataFrame]


def features(core: Core, threads: int) -> Core:
    with new_build(Path(":memory:")) as connection:
        connection.execute("set threads = " + str(threads))
        attach_settings(connection, Firm())
        for name, frame in {**core, "kept_wet_dry_pair": no_pairs()}.items():
            put_table(connection, "came_" + name, frame)
            connection.execute("create table " + name + " as select * from came_" + name)
        run_steps(connection, (*WARNING_STEPS, *FEATURE_STEPS, "features/ftr_callback"))
        return {
            name: pl.DataFrame(connection.table(name).order(", ".join(BUILT[name].key)).to_arrow_table())
            for name in MADE
        }


@pytest.fixture(scope="module")
def core(small_book: Book) -> Core:
    """Jobs with so many weighings and readings that threads share them, of numbers that no float holds exactly."""
    tables = {name: pl.DataFrame(read_arrow(small_book.current(), name)) for name in (*JOB_LOG, "follow_up_end")}
    catches, readings = tables["catches"], tables["readings"]
    catches = pl.concat(
        catches.with_columns(pl.col("catch_no") + 1000 * k, pl.col("mass_g") / 137 + k / 7) for k in range(120)
    )
    times = pl.col("flow_l_min", "flow_temp_c", "return_temp_c") * 0.93 + 0.01
    readings = pl.concat(readings.with_columns(pl.col("read_at") + pl.duration(seconds=k), times) for k in range(300))
    assert min(catches.height, readings.height) > ROWS_A_THREAD_TAKES
    lengths = tables["pipe_runs"].with_columns(pl.col("length_m") * 0.93)
    sizes = tables["emitters"].with_columns(pl.col("length_mm") * 0.93)
    return {**tables, "catches": catches, "readings": readings, "pipe_runs": lengths, "emitters": sizes}


@pytest.fixture(scope="module")
def expected(core: Core) -> Core:
    return features(core, threads=1)


@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.study)])
def test_neither_threads_nor_the_order_of_rows_change_a_digit(core: Core, expected: Core, seed: int) -> None:
    shuffled = {name: frame.sample(fraction=1.0, shuffle=True, seed=seed) for name, frame in core.items()}
    found = features(shuffled, threads=4)
    assert [name for name, frame in found.items() if not frame.equals(expected[name])] == []
