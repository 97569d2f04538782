"""Ways of handing the same world in: as files of many kinds, whole or in parts, and what the book then holds."""

from __future__ import annotations

import random
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path

import polars as pl

from pipeline.contract import BUILT, JOB_LOG
from pipeline.intake.load import load
from pipeline.store.book import Book, read_arrow
from tests.metamorphic.worlds import World

COMPARED = (*JOB_LOG, "job_warnings", *(name for name in BUILT if name.startswith("ftr_")))
"""Core and feature tables: what counts, whatever the files it came in."""


def tables(book: Book) -> dict[str, pl.DataFrame]:
    """Every core and feature table in the order of its key."""
    return {name: pl.DataFrame(read_arrow(book.current(), name)).sort(BUILT[name].key) for name in COMPARED}


def differing(one: dict[str, pl.DataFrame], other: dict[str, pl.DataFrame]) -> list[str]:
    """Names of the tables that are not equal to the last digit."""
    return [name for name in COMPARED if not one[name].equals(other[name])]


def handed_in(book: Book, parts: Iterable[World], folder: Path) -> Book:
    """Load each part by a load of its own, as CSV."""
    for number, part in enumerate(parts):
        load([as_csv(part, folder / f"part{number}")], book)
    return book


def by_job(world: World, parts: int) -> list[World]:
    """The world dealt out by job: every row goes with its job."""
    keys = world["jobs"].select("firm_id", "job_id")
    dealt = [keys.gather_every(parts, offset) for offset in range(parts)]
    return [{n: rows.join(own, on=keys.columns, how="semi") for n, rows in world.items()} for own in dealt]


def by_table(world: World, order: Iterable[Iterable[str]]) -> list[World]:
    """Some tables a load; where the jobs come late, all rows before them wait."""
    return [{name: world[name] for name in names} for names in order]


def shuffled(world: World, seed: int) -> World:
    """The same rows in another order, and the columns too."""
    chance = random.Random(seed)
    mixed = {name: rows.sample(fraction=1.0, shuffle=True, seed=seed) for name, rows in world.items()}
    return {name: rows.select(chance.sample(rows.columns, len(rows.columns))) for name, rows in mixed.items()}


def as_csv(world: World, folder: Path, separator: str = ",", encoding: str = "utf-8", ending: str = "csv") -> Path:
    """A folder with one delimited file a table."""
    folder.mkdir(parents=True)
    for name, rows in world.items():
        text = rows.write_csv(separator=separator)
        (folder / f"{name}.{ending}").write_bytes(text.encode(encoding))
    return folder


def as_parquet(world: World, folder: Path) -> Path:
    """A folder of Parquet with text columns."""
    folder.mkdir(parents=True)
    for name, rows in world.items():
        rows.write_parquet(folder / f"{name}.parquet")
    return folder


def as_lines(world: World, folder: Path) -> Path:
    """A folder of JSON lines."""
    folder.mkdir(parents=True)
    for name, rows in world.items():
        rows.write_ndjson(folder / f"{name}.jsonl")
    return folder


def as_workbook(world: World, folder: Path) -> Path:
    """One workbook, a sheet a table, every cell text."""
    import xlsxwriter

    folder.mkdir(parents=True)
    with xlsxwriter.Workbook(str(folder / "log.xlsx")) as workbook:
        for name, rows in world.items():
            sheet = workbook.add_worksheet(name)
            for place, row in enumerate([tuple(rows.columns), *rows.rows()]):
                sheet.write_row(place, 0, row)
    return folder


def as_archive(world: World, folder: Path) -> Path:
    """One ZIP of tab-separated files."""
    inside = as_csv(world, folder / "in", separator="\t", ending="tsv")
    with zipfile.ZipFile(folder / "log.zip", "w") as archive:
        for path in sorted(inside.iterdir()):
            archive.write(path, path.name)
    return folder / "log.zip"


FORMS: dict[str, Callable[[World, Path], Path]] = {
    "CSV with a byte-order mark": lambda world, folder: as_csv(world, folder, encoding="utf-8-sig"),
    "semicolons in Windows' letters": lambda world, folder: as_csv(world, folder, separator=";", encoding="cp1252"),
    "tabs in UTF-16": lambda world, folder: as_csv(world, folder, separator="\t", encoding="utf-16", ending="txt"),
    "Parquet": as_parquet,
    "JSON lines": as_lines,
    "a workbook": as_workbook,
    "an archive": as_archive,
}
