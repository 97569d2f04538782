"""Slips happen only where the world says so, are listed one by one, and are put right by what comes later."""

from collections import Counter

import polars as pl
import pytest

from pipeline.intake.load import load
from pipeline.store.book import Book
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_to_folder

CLEAN = sorted(set(SCENARIOS) - {"lazy_loggers"})
QUICK = ("usual", "pool", "faulty_days")
"""One firm on usual days, several firms, days that go wrong: rows of every kind that any world writes."""


@pytest.fixture(scope="module")
def lazy(tmp_path_factory):
    """300 jobs of lazy loggers, loaded, and then what came later: (written, slips, first report, second report)."""
    folder = tmp_path_factory.mktemp("lazy")
    written = simulate_to_folder(folder / "logs", jobs=300, seed=4, scenario="lazy_loggers")
    book = Book(folder / "book")
    reports = [load([path], book) for path in (written.out, written.later)]
    return written, pl.read_parquet(written.slips), *reports


@pytest.mark.parametrize("scenario", [n if n in QUICK else pytest.param(n, marks=pytest.mark.study) for n in CLEAN])
def test_every_other_world_loads_without_a_reject(tmp_path, scenario):
    """Three worlds find whatever is written wrongly in all of them; what one of the others alone writes wrongly is
    found here by the study, and by the contract's ranges in `test_logbook.py` always."""
    written = simulate_to_folder(tmp_path / "logs", jobs=60, seed=4, scenario=scenario)
    report = load([written.out], Book(tmp_path / "book"))

    assert report.rejects == ()
    assert {name: (c.accepted, c.rejected, c.duplicates, c.waiting) for name, c in report.tables.items()} == {
        name: (rows, 0, 0, 0) for name, rows in written.rows.items()
    }
    assert written.later is None
    assert written.slips is None


def test_exactly_the_slips_that_are_listed_are_rejected(lazy):
    _, slips, first, _ = lazy
    rejected = Counter({table: count.rejected for table, count in first.tables.items() if count.rejected})
    listed = Counter()
    for table, becomes in slips.select("table", "becomes").iter_rows():
        listed[table] += {"rejected": 1, "conflict": 2}.get(becomes, 0)

    assert rejected == listed
    assert rejected["emitters"] > 5
    assert rejected["catches"] > 10


def test_a_rejected_row_is_the_one_that_is_listed_with_the_value_that_is_listed(lazy):
    written, slips, first, _ = lazy
    own = {"jobs": None, "emitters": "emitter_no", "catches": "catch_no", "readings": "read_at"}
    lines = {name: pl.read_csv(written.out / f"{name}.csv", infer_schema=False) for name in own}
    found = set()
    for reject in first.rejects:
        row = lines[reject.table].row(reject.line - 2, named=True)
        if "same key" not in reject.reason:
            key = "" if own[reject.table] is None else row[own[reject.table]]
            found.add((reject.table, row["job_id"], reject.column, key[:16], float(reject.value)))
    listed = {
        (s["table"], s["job_id"], s["column"], s["row_key"][:16].replace(" ", "T"), float(s["written"]))
        for s in slips.filter(becomes="rejected").iter_rows(named=True)
    }

    assert found == listed
    assert len(found) > 20


def test_double_entries_are_set_aside(lazy):
    _, slips, first, _ = lazy
    late_jobs = set(slips.filter(table="jobs", becomes="rejected")["job_id"])
    listed = slips.filter(pl.col("becomes") == "duplicate", ~pl.col("job_id").is_in(late_jobs)).height

    assert sum(count.duplicates for count in first.tables.values()) >= listed > 20


def test_what_comes_later_puts_everything_right(lazy):
    _, slips, _, second = lazy
    jobs = slips.filter(table="jobs").height

    assert second.rejects == ()
    assert second.tables["jobs"].accepted == jobs > 5
    assert all(count.waiting == 0 for count in second.tables.values())


def test_jobs_without_their_own_row_wait_and_are_let_in(lazy):
    _, slips, first, _ = lazy
    assert slips.filter(table="jobs", becomes="rejected").height > 0
    assert first.tables["emitters"].waiting > 0


def test_later_figures_count_in_the_book(lazy):
    from pipeline.store.book import read_table

    written, slips, *_ = lazy
    build = Book(written.out.parent / "book").current()
    jobs = pl.from_pandas(read_table(build, "jobs")[["job_id", "filter_fitted", "isolation"]])
    late = slips.filter(becomes="corrected_later").join(jobs, on="job_id")

    assert late.height > 5
    for row in late.iter_rows(named=True):
        assert row[row["column"]] == row["right"] != row["written"]
