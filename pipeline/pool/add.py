"""A book's checked rows go into the lake: append-only, named by their content, so that adding twice adds nothing."""

from __future__ import annotations

import hashlib
import json
import secrets
import shutil
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.build import ACCOUNTS
from pipeline.contract import CONTRACT_VERSION, JOB_LOG
from pipeline.contract.whole_files import replace_file, sync_folder, write_whole
from pipeline.intake.load import book_lock
from pipeline.intake.set_aside import is_settled, set_aside
from pipeline.pool.hidden import hidden_firm, hidden_rows
from pipeline.pool.lake import NEWEST, PART_FILE, Lake, PoolError, sha256_of
from pipeline.store.book import Book
from pipeline.store.checked_files import read_checked, scan_checked
from pipeline.store.received import batches

ROWS = ["batch_no", "source_no", "line"]


@dataclass(frozen=True, slots=True)
class Added:
    """One firm added: its id in the pool, jobs, rows of the job log, and whether its rows were there already."""

    firm: str
    jobs: int
    rows: int
    is_new: bool


def add(book: Book, lake: Lake) -> tuple[Added, ...]:
    """Put each firm of a book into the lake, ids hidden; a firm whose rows are there already stays as it is.

    PoolError where the book holds rows that are not checked yet.
    """
    book.current()  # says what is missing
    lake.create()
    lake.check()
    with book_lock(book), lake.lock():
        folders = _checked_folders(book)
        spans = pl.concat(read_checked(folder / "spans.parquet") for folder in folders)
        return tuple(_add_firm(lake, folders, firm, book.id_key()) for firm in sorted(spans["firm_id"].unique()))


def _checked_folders(book: Book) -> list[Path]:
    """Checked rows of every batch that counts, in the order received."""
    counted = [batch for batch in batches(book) if set_aside(book, batch) is None]
    waiting = [batch.batch_id for batch in counted if not is_settled(book, batch)]
    if waiting or not counted:
        raise PoolError(f"The book {book.path} holds files that are not checked by these rules; load or rebuild it.")
    return [book.checked / batch.batch_id for batch in counted]


def _add_firm(lake: Lake, folders: list[Path], firm_id: str, key: bytes) -> Added:
    firm = hidden_firm(key, firm_id)
    home = lake.firms / firm
    part = home / f".{secrets.token_hex(4)}.part"
    part.mkdir(parents=True)
    try:
        frames = _frames_of(folders, firm_id, key)
        files = _written(frames, part)
        rows = sum(frames[name].height for name in JOB_LOG)
        jobs = int(frames["jobs"]["job_id"].n_unique())
        digest = _digest(files)
        said = {"contract": CONTRACT_VERSION, "jobs": jobs, "rows": rows, "files": files}
        write_whole(part / PART_FILE, json.dumps(said, indent=1).encode())
        is_new = not (home / digest / PART_FILE).is_file()
        if is_new:
            shutil.rmtree(home / digest, ignore_errors=True)  # half copied once
            replace_file(part, home / digest)
            sync_folder(home)
    except OSError as error:
        raise PoolError(f"The pool {lake.path} cannot be written: {error.strerror or error}.") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    write_whole(home / NEWEST, f"{digest}\n".encode())
    return Added(firm, jobs, rows, is_new)


def _digest(files: dict[str, tuple[int, str]]) -> str:
    said = "\n".join(f"{name} {sha256}" for name, (_, sha256) in sorted(files.items()))
    return hashlib.sha256(said.encode()).hexdigest()[:16]


def _frames_of(folders: list[Path], firm_id: str, key: bytes) -> dict[str, pl.DataFrame]:
    """Every table of one firm as the pool may hold it, in the order of receipt."""
    found = {}
    for name in JOB_LOG:
        rows = scan_checked([folder / name for folder in folders]).filter(pl.col("firm_id") == firm_id).collect()
        found[name] = hidden_rows(rows, key, firm_id).sort(ROWS)
    accounts = {name: scan_checked(folders, f"{name}.parquet").collect() for name in ACCOUNTS if name != "sources"}
    for name, rows in accounts.items():
        mine = hidden_rows(rows.filter(pl.col("firm_id") == firm_id), key, firm_id)
        found[name] = mine.sort([column for column in (*ROWS, "job_id", "reason") if column in mine.columns])
    sources = scan_checked(folders, "sources.parquet").collect()
    if accounts["spans"]["firm_id"].n_unique() == 1:
        found["spans"] = pl.concat([found["spans"], _none_came_back(sources, found, key, firm_id)])
    found["sources"] = _sources(sources, found, key, firm_id)
    return found


def _none_came_back(sources: pl.DataFrame, found: dict[str, pl.DataFrame], key: bytes, firm_id: str) -> pl.DataFrame:
    """A callback table without a row says that nobody called back. Whose it is, a book of one firm tells; a lake of
    many would not: so it is said beside one of the firm's jobs, as a span of no rows."""
    empty = hidden_rows(sources.filter(pl.col("table_name") == "callbacks", pl.col("rows") == 0), key, firm_id)
    a_job = found["jobs"].select("firm_id", "job_id").head(1)
    said = {"rows": pl.lit(0, pl.Int64), "first_at": None, "last_at": None, "is_tidy": pl.lit(True)}
    spans = empty.select("source_no", "table_name", "batch_no").join(a_job, how="cross").with_columns(**said)
    return spans.select(found["spans"].columns).cast(found["spans"].schema)


def _sources(sources: pl.DataFrame, found: dict[str, pl.DataFrame], key: bytes, firm_id: str) -> pl.DataFrame:
    """The files that hold rows of this firm, each with the count of this firm's rows alone."""
    which = ["batch_no", "source_no"]
    taken = found["spans"].group_by(which).agg(pl.col("rows").sum())
    refused = found["rejects"].group_by(which).agg(pl.col("line").n_unique().cast(pl.Int64).alias("rows"))
    mine = pl.concat([taken, refused]).group_by(which).agg(pl.col("rows").sum())
    hidden = hidden_rows(sources, key, firm_id)
    return hidden.drop("rows").join(mine, on=which).select(sources.columns).sort(which)


def _written(frames: dict[str, pl.DataFrame], folder: Path) -> dict[str, tuple[int, str]]:
    """File → its size and SHA-256."""
    files = {}
    for name, frame in frames.items():
        path = folder / f"{name}.parquet"
        frame.write_parquet(path, compression="zstd", statistics=True)
        files[path.name] = (path.stat().st_size, sha256_of(path))
    return files
