"""A build from the one before it: only the jobs that a new batch touches are worked out again.

Everything in a build belongs to one job, but for the firm's wet / dry ratio, the end of its follow-up and
the account of all rows; the last two are worked out anew for all jobs. So the same steps run in memory
for the jobs of the new batch, and their rows replace the old ones in a copy of the earlier build. Where
that is not enough, `build_whole` builds everything.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import polars as pl

from pipeline.build import (
    ACCOUNT_STEPS,
    CORE_STEPS,
    FEATURE_STEPS,
    FIRM_STEPS,
    BuildError,
    Progress,
    attach_checked,
    attach_settings,
    build_name,
    build_whole,
    put_table,
    run_steps,
    write_comments,
)
from pipeline.contract import BUILT, JOB_LOG
from pipeline.contract.whole_files import replace_file, sync_folder
from pipeline.intake.set_aside import build_keys
from pipeline.intake.write_faults import is_of_the_disk
from pipeline.store.book import Book, is_damaged, new_build
from pipeline.store.checked_files import read_checked, scan_checked

LARGEST_SHARE = 0.2
"""A batch that touches more of the jobs than this is built whole: it is then the quicker way."""

TIE = ["firm_id", "job_id"]
_OF_ALL_JOBS = (*ACCOUNT_STEPS, *FIRM_STEPS)
_MADE_ANEW = tuple(step.rpartition("/")[2] for step in _OF_ALL_JOBS)
_OF_JOBS = tuple(name for name, table in BUILT.items() if set(TIE) <= set(table.names) and name not in _MADE_ANEW)
_RATIOS = "select firm_id, max(wet_dry_ratio) as wet_dry_ratio from earlier.ftr_outcome group by firm_id"
_RATIOS_NOW = "select firm_id, wet_dry_ratio from ftr_wet_dry"
_PAIRS_KEPT = (
    "select p.firm_id, p.wet_dry_ratio from earlier.ftr_wet_dry_pair as p"
    " anti join touched as t on p.firm_id = t.firm_id and p.job_id = t.job_id"
)
_FIRMS_LEFT = "select distinct firm_id from earlier.jobs anti join touched using (firm_id, job_id)"


def build_book(book: Book, batches: list[str], progress: Progress | None = None) -> Path:
    """Build from the checked batches, in the order received, and publish; the file that is now current.

    Nothing is done twice: a build of the same content is published as it stands.
    """
    firm, keys = book.firm(), build_keys(book, batches)
    build = book.builds / build_name(keys, firm)
    if not build.is_file() or is_damaged(build):
        earlier = book.builds / build_name(keys[:-1], firm)
        if len(batches) < 2 or not earlier.is_file() or not _put_renewed_build(book, batches, earlier, build, progress):
            put_whole_build(book, batches, build, progress)
    book.publish(build)
    return build


def put_whole_build(book: Book, batches: list[str], build: Path, progress: Progress | None = None) -> None:
    """Build everything from the checked batches and put it in its place when it is whole."""
    with _put_in_place(build) as part:
        build_whole(book, batches, part, progress)


def _put_renewed_build(book: Book, batches: list[str], earlier: Path, build: Path, progress: Progress | None) -> bool:
    """The same from the earlier build; False where the whole must be built, also because the earlier one is broken."""
    try:
        with _put_in_place(build) as part:
            if not _renewed(book, batches, earlier, part, progress):
                raise _NotRenewed
    except (_NotRenewed, duckdb.Error, BuildError) as error:
        if is_of_the_disk(error):
            raise
        return False
    return True


class _NotRenewed(Exception):
    """Too much has changed to start from the earlier build."""


@contextmanager
def _put_in_place(build: Path) -> Iterator[Path]:
    """A file to build into, put in the place of the build when the work is done; nothing stays of one that fails."""
    part = build.with_name(f".{build.name}.part")
    _discard(part)
    try:
        yield part
        replace_file(part, build)
        sync_folder(build.parent)
    except BaseException:
        _discard(part)
        raise


def _discard(part: Path) -> None:
    """Remove what was built by halves."""
    for stale in (part, part.with_name(f"{part.name}.wal")):
        stale.unlink(missing_ok=True)


def _renewed(book: Book, batches: list[str], earlier: Path, part: Path, progress: Progress | None) -> bool:
    """Build `part` from the earlier build; False when the whole must be built after all."""
    folders = [book.checked / batch for batch in batches]
    touched = read_checked(folders[-1] / "spans.parquet").select(TIE).unique(maintain_order=True)
    with new_build(Path(":memory:")) as scratch:
        if not _can_renew(scratch, earlier, touched):
            return False
        kept = _frame(scratch, _PAIRS_KEPT)
        put_table(scratch, "kept_wet_dry_pair", kept)
        attach_touched(scratch, folders, touched)
        attach_settings(scratch, book.firm())
        run_steps(scratch, (*CORE_STEPS, *FEATURE_STEPS), progress)
        if not _same_ratios(scratch):
            return False
        rows = {name: pl.DataFrame(scratch.table(name).to_arrow_table()) for name in _OF_JOBS}
        scratch.execute("detach earlier")
    shutil.copyfile(earlier, part)
    with new_build(part) as connection:
        connection.execute("begin")  # one write to disk for all that follows
        put_table(connection, "touched", touched)
        for name, frame in rows.items():
            _replace(connection, name, frame)
        attach_checked(connection, folders)
        for name in _MADE_ANEW:
            connection.execute("drop table " + name)
        run_steps(connection, _OF_ALL_JOBS)
        write_comments(connection, _MADE_ANEW)  # the others kept theirs
        connection.execute("commit")
    return True


def _frame(connection: duckdb.DuckDBPyConnection, query: str) -> pl.DataFrame:
    return pl.DataFrame(connection.sql(query).to_arrow_table())


def _can_renew(scratch: duckdb.DuckDBPyConnection, earlier: Path, touched: pl.DataFrame) -> bool:
    """Attach the earlier build and judge whether few enough of its jobs are touched."""
    put_table(scratch, "touched", touched)
    scratch.execute("attach '" + str(earlier).replace("'", "''") + "' as earlier (read_only)")
    jobs = scratch.execute("select count(*) from earlier.jobs").fetchall()[0][0]
    return bool(touched.height <= max(1, LARGEST_SHARE * jobs))


def attach_touched(scratch: duckdb.DuckDBPyConnection, folders: list[Path], touched: pl.DataFrame) -> None:
    """Make the checked rows of the touched jobs readable; only batches that hold any are opened."""
    spans = pl.concat(read_checked(folder / "spans.parquet") for folder in folders)
    spans = spans.join(touched, on=TIE, how="semi")
    put_table(scratch, "checked_spans", spans)
    numbers = set(spans["batch_no"])
    sources = {folder: read_checked(folder / "sources.parquet") for folder in folders}
    holding = [f for f, source in sources.items() if f == folders[-1] or set(source["batch_no"]) & numbers]
    put_table(scratch, "checked_sources", pl.concat(sources.values()))
    for name in JOB_LOG:
        rows = scan_checked([folder / name for folder in holding])
        put_table(scratch, "checked_" + name, rows.join(touched.lazy(), on=TIE, how="semi").collect())
    for name in ("rejects", "warnings"):
        rows = scan_checked(holding, f"{name}.parquet")
        put_table(scratch, "checked_" + name, rows.join(touched.lazy(), on=TIE, how="semi").collect())


def _same_ratios(scratch: duckdb.DuckDBPyConnection) -> bool:
    """Whether no firm with other jobs in the earlier build gets another wet / dry ratio by the new rows."""
    now = _frame(scratch, _RATIOS_NOW)
    before = _frame(scratch, _RATIOS)
    left = _frame(scratch, _FIRMS_LEFT)
    both = now.join(before, on="firm_id", suffix="_before").join(left, on="firm_id", how="semi")
    return bool((both["wet_dry_ratio"] == both["wet_dry_ratio_before"]).all())


def _replace(connection: duckdb.DuckDBPyConnection, name: str, rows: pl.DataFrame) -> None:
    """Put the rows of the touched jobs in the place of their old ones."""
    gone = " where (firm_id, job_id) in (select (firm_id, job_id) from touched)"
    connection.execute("delete from " + name + gone)
    if rows.is_empty():
        return
    put_table(connection, "renewed", rows)
    connection.execute("insert into " + name + " by name select * from renewed")
    connection.unregister("renewed")
