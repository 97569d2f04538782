"""Build a pool: the tables of the firms whose rows changed, then a build that reads all of them as one book.

What is worked out belongs to a firm, so that a firm whose rows and rules are those of before keeps its tables. A build
is there whole or not at all: tables are written under a name of their own, and `current` names them last.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import shutil
from dataclasses import dataclass
from pathlib import Path

import duckdb

from pipeline.build import build_name, write_comments
from pipeline.contract import BUILT
from pipeline.contract.findings import Finding
from pipeline.contract.whole_files import replace_file, sync_folder, write_whole
from pipeline.pool.engines import OF_FIRM, Engine, Progress
from pipeline.pool.lake import Lake, Part, PoolError, read_json
from pipeline.store.book import new_build
from pipeline.store.checked_files import every_file

BUILDS_KEPT = 2
Kept = dict[str, tuple[str, str]]
"""Firm → its part, and the folder of `tables` that holds what was worked out from it."""


@dataclass(frozen=True, slots=True)
class PoolBuilt:
    """A build of a pool: its name, firms and jobs in it, firms worked out now, and what was left out."""

    build: str
    firms: int
    jobs: int
    worked_out: int
    findings: tuple[Finding, ...]


def build_pool(lake: Lake, engine: Engine, progress: Progress | None = None, *, anew: bool = False) -> PoolBuilt:
    """Work out what changed, publish, sweep what no build reads; `anew` works out every firm.

    PoolError where there is nothing to build, another command writes, or the disk is full: the build before stays.
    """
    lake.check()
    with lake.lock():
        parts, faults = lake.newest_parts()
        if not parts:
            raise PoolError(f"The pool {lake.path} holds no firm yet. `sludgebook pool add BOOK LAKE`.")
        rules = build_name([], lake.book.firm()).removesuffix(".duckdb")
        name = _kept_name(rules, {part.firm: (part.digest, "") for part in parts})
        kept = {} if anew else _kept(lake, rules)
        changed = tuple(part for part in parts if kept.get(part.firm, ("", ""))[0] != part.digest)
        try:
            if changed:
                kept |= _work_out(lake, engine, changed, name, progress)
            kept = {part.firm: kept[part.firm] for part in parts}
            _publish(lake, name, rules, kept)
            _sweep(lake)
        except (OSError, duckdb.IOException) as error:
            raise PoolError(f"The pool {lake.path} cannot be written: {error}.") from error
    found = tuple(Finding("firm_left_out", sentence) for sentence in faults)
    return PoolBuilt(name, len(parts), sum(part.jobs for part in parts), len(changed), found)


def _kept_name(rules: str, kept: Kept) -> str:
    """The name of a build, from the rules and each firm's part."""
    said = "\n".join((rules, *(f"{firm} {part}" for firm, (part, _) in sorted(kept.items()))))
    return hashlib.sha256(said.encode()).hexdigest()[:16]


def _kept(lake: Lake, rules: str) -> Kept:
    """What the current build worked out by the same rules and settings and is still there."""
    named = lake.book.named_build()
    said = lake.book.builds / f"{Path(named).stem}.json" if named else None
    if said is None or not said.is_file():
        return {}
    found = read_json(said)
    firms = found.get("firms")
    if found.get("rules") != rules or not isinstance(firms, dict):
        return {}
    return {firm: (part, folder) for firm, (part, folder) in firms.items() if (lake.tables / folder).is_dir()}


def _work_out(lake: Lake, engine: Engine, changed: tuple[Part, ...], name: str, progress: Progress | None) -> Kept:
    """The tables of these firms, in a folder of their own, there whole or not at all."""
    named = f"{name}-{secrets.token_hex(4)}"  # never the folder that the build of today reads
    part, folder = lake.tables / f".{named}.part", lake.tables / named
    part.mkdir(parents=True)
    try:
        engine.run(changed, lake.book.firm(), part, progress)
        shutil.rmtree(part / ".empty", ignore_errors=True)
        replace_file(part, folder)
        sync_folder(lake.tables)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return {each.firm: (each.digest, named) for each in changed}


def _publish(lake: Lake, name: str, rules: str, kept: Kept) -> None:
    builds = lake.book.builds
    part, build = builds / f".{name}.duckdb.part", builds / f"{name}.duckdb"
    part.unlink(missing_ok=True)
    with new_build(part) as connection:
        for table in BUILT:
            _write_view(connection, table, _files(lake, table, kept))
        write_comments(connection, kind="view")
    replace_file(part, build)
    said = {"rules": rules, "firms": kept}
    write_whole(builds / f"{name}.json", json.dumps(said, indent=1).encode())
    lake.book.publish(build)


def _files(lake: Lake, table: str, kept: Kept) -> list[str]:
    """Every file of a table that counts, by the firm."""
    found: list[str] = []
    for firm, (_, folder) in kept.items():
        home = lake.tables / folder / table / f"{OF_FIRM}={firm}"
        found += sorted(str(path) for path in home.glob("*.parquet"))
    return found


def _write_view(connection: duckdb.DuckDBPyConnection, table: str, files: list[str]) -> None:
    """A view of the table over its files, each column of the kind that the contract says."""
    columns = BUILT[table].columns
    if not files:
        listed = ", ".join("cast(null as " + column.dtype + ") as " + column.name for column in columns)
        connection.execute("create view " + table + " as select " + listed + " where false")
        return
    quoted = ", ".join("'" + every_file(Path(file).parent, Path(file).name).replace("'", "''") + "'" for file in files)
    listed = ", ".join("cast(" + column.name + " as " + column.dtype + ") as " + column.name for column in columns)
    source = "read_parquet([" + quoted + "], hive_partitioning = false, union_by_name = true)"
    connection.execute("create view " + table + " as select " + listed + " from " + source)


def without_firm(lake: Lake, firm: str) -> None:
    """Publish the current build without a firm and remove its tables. The caller holds the lock."""
    named = lake.book.named_build()
    said = lake.book.builds / f"{Path(named).stem}.json" if named else None
    found = read_json(said) if said and said.is_file() else {}
    firms = found.get("firms")
    kept: Kept = {name: (part, folder) for name, (part, folder) in firms.items()} if isinstance(firms, dict) else {}
    kept.pop(firm, None)
    if kept:
        rules = str(found["rules"])
        _publish(lake, _kept_name(rules, kept), rules, kept)
    else:
        (lake.path / "current").unlink(missing_ok=True)
    _sweep(lake, builds_kept=1)
    for folder in lake.tables.glob(f"*/*/{OF_FIRM}={firm}"):
        shutil.rmtree(folder)


def _sweep(lake: Lake, builds_kept: int = BUILDS_KEPT) -> None:
    """Remove builds but the newest, and the tables that none of those reads: a page may still read the one before."""
    builds = sorted(lake.book.builds.glob("[!.]*.duckdb"), key=lambda path: path.stat().st_mtime_ns, reverse=True)
    current = lake.book.named_build()
    stay = [path for path in builds if path.name == current] + [path for path in builds if path.name != current]
    stay = stay[:builds_kept] if current else []
    read: set[str] = set()
    for path in builds:
        said = path.with_suffix(".json")
        if path not in stay:
            path.unlink()
            said.unlink(missing_ok=True)
            continue
        firms = read_json(said)["firms"] if said.is_file() else {}
        read |= {folder for _, folder in firms.values()} if isinstance(firms, dict) else set()
    for folder in lake.tables.iterdir():
        if folder.name not in read:
            shutil.rmtree(folder, ignore_errors=True)
