"""A build from the one before it equals a build of everything, whatever comes in which order."""

from __future__ import annotations

import random
from pathlib import Path

import polars as pl
import pytest

from pipeline import renew
from pipeline.contract import BUILT
from pipeline.intake.load import load
from pipeline.store.book import Book, open_memory, read_arrow, sql_text
from pipeline.store.received import batches
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD, WriteLog


def tables(book: Book) -> dict[str, pl.DataFrame]:
    return {name: pl.DataFrame(read_arrow(book.current(), name)) for name in BUILT}


def whole_again(book: Book) -> dict[str, pl.DataFrame]:
    """The same received batches, built whole."""
    names = [batch.batch_id for batch in batches(book)]
    part = book.path / f"whole-{len(names)}.duckdb"
    renew.build_whole(book, names, part)
    return {name: pl.DataFrame(read_arrow(part, name)) for name in BUILT}


def assert_same(book: Book) -> None:
    whole = whole_again(book)
    for name, frame in tables(book).items():
        assert frame.equals(whole[name]), name


@pytest.fixture
def count_whole(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Counts how often the load builds everything."""
    calls: list[int] = []
    build_whole = renew.build_whole

    def counted(*arguments: object, **named: object) -> None:
        calls.append(1)
        build_whole(*arguments, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(renew, "build_whole", counted)
    monkeypatch.setattr(renew, "LARGEST_SHARE", 10.0)
    return calls


def split_log(logs: Path, out: Path, seed: int) -> list[Path]:
    """Deal the jobs of a log to four folders; some rows come again as they are, some come corrected, in later ones.

    The jobs are given to two firms that share every job number, and dealt without regard to it.
    """
    chance = random.Random(seed)
    frames = {path.stem: pl.read_csv(path, infer_schema=False) for path in sorted(logs.glob("*.csv"))}
    # weighed wet only: a firm whose ratio moves with every load would be built whole every time
    frames["catches"] = frames["catches"].filter(pl.col("weighed").fill_null("wet") == "wet")
    jobs = frames["jobs"]["job_id"].to_list()
    owned = [(job, ("n", "s")[place % 2], f"j{place // 2}") for place, job in enumerate(jobs)]
    owners = pl.DataFrame(owned, schema=["job_id", "firm", "number"], orient="row")
    deal = {job: chance.randrange(4) for job in jobs}
    folders = []
    for number in range(4):
        folder = out / f"part{number}"
        folder.mkdir()
        own = [job for job in jobs if deal[job] == number]
        again = chance.sample([job for job in jobs if deal[job] < number], 3) if number else []
        early = chance.sample([job for job in jobs if deal[job] > number], 2) if number < 3 else []
        for name, frame in frames.items():
            which = own + (again if chance.random() < 0.7 else []) + (early if name != "jobs" else [])
            rows = frame.filter(pl.col("job_id").is_in(which))
            if name == "jobs" and again:
                fixed = pl.when(pl.col("job_id") == again[0]).then(pl.lit("3")).otherwise(pl.col("crew_size"))
                rows = rows.with_columns(fixed.alias("crew_size"))
            rows = (
                rows.join(owners, on="job_id").drop("firm_id", "job_id").rename({"firm": "firm_id", "number": "job_id"})
            )
            rows.sample(fraction=1.0, shuffle=chance.random() < 0.5, seed=seed).write_csv(folder / f"{name}.csv")
        folders.append(folder)
    return folders


@pytest.mark.parametrize(
    ("seed", "compared"), [(1, (3,)), *(pytest.param(s, (0, 1, 2, 3), marks=pytest.mark.study) for s in (1, 2, 3))]
)
def test_loads_in_any_order_give_what_one_build_gives(
    seed: int, compared: tuple[int, ...], small_logs: Path, tmp_path: Path, count_whole: list[int]
) -> None:
    """Compared after the last load only, a fault that a later load of the same jobs makes good goes unseen; the study
    compares after each."""
    book = Book(tmp_path / "book")
    for number, folder in enumerate(split_log(small_logs, tmp_path, seed)):
        load([folder], book)
        if number in compared:
            assert_same(book)
    assert len(count_whole) == 1 + len(compared)  # the first load, and the comparisons


def test_a_correction_and_a_waiting_row_are_renewed_in_place(
    tmp_path: Path, write_log: WriteLog, count_whole: list[int]
) -> None:
    book = Book(tmp_path / "book")
    jobs = [JOBS_HEAD, JOB_A, "b" + JOB_A[1:], "c" + JOB_A[1:]]
    catches = [CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,500", "d,1,2025-03-04T10:00,magnet,9"]
    load([write_log(jobs=jobs, catches=catches)], book)
    load([write_log(catches=[CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,400"])], book)
    load([write_log(jobs=[JOBS_HEAD, "d" + JOB_A[1:]])], book)

    assert len(count_whole) == 1
    assert_same(book)
    assert tables(book)["catches"].sort("job_id")["mass_g"].to_list() == [400.0, 9.0]


def test_a_new_wet_dry_ratio_of_a_firm_builds_everything(
    tmp_path: Path, write_log: WriteLog, count_whole: list[int]
) -> None:
    book = Book(tmp_path / "book")
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=[CATCHES_HEAD, "a,1,2025-03-04T10:00,magnet,500"])], book)
    both = [f"{CATCHES_HEAD},weighed", "b,1,2025-03-04T10:00,magnet,500,wet", "b,2,2025-03-04T10:00,magnet,200,dry"]
    load([write_log(jobs=[JOBS_HEAD, "b" + JOB_A[1:]], catches=both)], book)

    assert len(count_whole) == 2
    assert tables(book)["ftr_outcome"]["wet_dry_ratio"].to_list() == [2.5, 2.5]


_CURVES = """
create table ftr_catch_curve as
select
    'own' as firm_id, 'j' || (i // 150) as job_id, i as catch_no, 'magnet' as trap, i % 3 as focus_emitter_no,
    timestamp '2025-03-04 09:00' + to_seconds(i) as caught_at, cast(i as double) as minutes_since_start,
    floor(hash(i) % 2000) / 60.0 as interval_minutes, (hash(i + 7) % 4000) / 10.0 / 1.89 as dry_g
from range(60000) as t (i)
"""


def test_the_emitter_curves_of_some_jobs_are_to_the_digit_those_among_all_jobs() -> None:
    """A window adds in blocks that depend on where the rows lie, so doubles would differ in the last digits."""
    found = []
    for kept in ("", " where job_id in ('j5', 'j7', 'j77', 'j301')"):
        with open_memory() as connection:
            connection.execute(_CURVES + kept)
            connection.execute(sql_text("features/ftr_emitter_curve"))
            found.append(pl.DataFrame(connection.table("ftr_emitter_curve").to_arrow_table()))
    every, some = found
    assert some.height == 4 * 150
    same = every.join(some.select("job_id").unique(), on="job_id", how="semi")
    assert same.sort("catch_no").equals(some.sort("catch_no"))
