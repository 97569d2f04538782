"""Slips of the pen, in worlds that say so: wrong units, rows entered twice, and what is corrected later.

Everything here is listed in the truth, row by row, with what a careful reader must make of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.contract import JOB_LOG
from synthetic_data.chunk import Chunk
from synthetic_data.streams import stream

REJECTED, WRONG, DUPLICATE, CONFLICT, CORRECTED = "rejected", "loads_wrong", "duplicate", "conflict", "corrected_later"
"""What becomes of a slip: refused; loads with a wrong figure; the second of two is set aside; both of two are
refused; loads, and a later folder brings the right figure."""

Tables = dict[str, pl.DataFrame]


@dataclass(frozen=True, slots=True)
class UnitSlip:
    """A figure written in another unit: `factor` times what it should be, where that lands within `low..high`."""

    table: str
    column: str
    factor: float
    low: float
    high: float
    becomes: str


UNIT_SLIPS = (
    UnitSlip("emitters", "height_mm", 0.1, 0.0, 99.9, REJECTED),  # cm
    UnitSlip("jobs", "boiler_output_kw", 1000.0, 200.1, 1e9, REJECTED),  # W
    UnitSlip("readings", "flow_l_min", 60.0, 200.1, 1e9, REJECTED),  # L/h
    UnitSlip("readings", "pressure_bar", 100.0, 10.1, 1e9, REJECTED),  # kPa
    UnitSlip("catches", "mass_g", 0.001, 0.001, 1e9, WRONG),  # kg
)
"""The refused ones are outside the contract's range whatever the figure; kilograms for grams are not."""

_TWICE = ("emitters", "catches", "readings")
_CONFLICTS = (("catches", "mass_g", 1.25), ("readings", "flow_temp_c", 0.9))
_LATE = (("filter_fitted", "none", "on_return"), ("isolation", "all_open", "groups"))

SLIP_SCHEMA = {
    "firm_id": pl.String,
    "job_id": pl.String,
    "table": pl.String,
    "row_key": pl.String,
    "column": pl.String,
    "right": pl.String,
    "written": pl.String,
    "becomes": pl.String,
}


@dataclass(frozen=True, slots=True)
class Slipped:
    """Tables as written, tables of the folder that comes later, and the list of what was done."""

    tables: Tables
    later: Tables
    slips: pl.DataFrame


def slip(chunk: Chunk, tables: Tables) -> Slipped:
    """Let the crews of a chunk slip, by the shares of its world; rows that slip once are left alone after."""
    p, rng = chunk.parameters.log, stream(chunk.setting.seed, "slips", chunk.setting.number)
    now, later = dict(tables), {name: [frame.clear()] for name, frame in tables.items()}
    free = {name: np.ones(frame.height, dtype=bool) for name, frame in tables.items()}
    listed = [pl.DataFrame(schema=SLIP_SCHEMA)]
    for kind in UNIT_SLIPS:
        share = p.unit_slip_share * (0.5 if kind.table == "readings" else 1.0)
        value = pl.col(kind.column) * kind.factor
        frame = now[kind.table]
        can = frame.select(value.is_between(kind.low, kind.high).fill_null(value=False)).to_series().to_numpy()
        at = _draw(rng, free[kind.table], can, share)
        wrong = _at(frame, at).with_columns(value.round(3).alias(kind.column))
        listed.append(_list(kind.table, kind.column, _at(tables[kind.table], at), wrong, kind.becomes))
        later[kind.table].append(_at(tables[kind.table], at))
        now[kind.table] = _put(frame, at, wrong)
    for column, given, right in _LATE:
        is_so = (now["jobs"][column] == right).fill_null(value=False).to_numpy()
        at = _draw(rng, free["jobs"], is_so, p.late_share)
        wrong = _at(now["jobs"], at).with_columns(pl.lit(given).alias(column))
        listed.append(_list("jobs", column, _at(tables["jobs"], at), wrong, CORRECTED))
        later["jobs"].append(_at(tables["jobs"], at))
        now["jobs"] = _put(now["jobs"], at, wrong)
    _enter_twice(rng, p.twice_share, p.conflict_share, tables, now, later, free, listed)
    joined = {name: pl.concat(parts) for name, parts in later.items()}
    return Slipped(now, joined, pl.concat(listed))


def _enter_twice(
    rng: np.random.Generator,
    twice: float,
    conflict: float,
    tables: Tables,
    now: Tables,
    later: dict[str, list[pl.DataFrame]],
    free: dict[str, np.ndarray],
    listed: list[pl.DataFrame],
) -> None:
    """Append rows word for word, and rows with another figure under the same key."""
    for name in _TWICE:
        again = _at(tables[name], _draw(rng, free[name], True, twice))
        now[name] = pl.concat([now[name], again])
        later[name].append(again)
        listed.append(_list(name, "", again, again, DUPLICATE))
    for name, column, factor in _CONFLICTS:
        known = tables[name][column].is_not_null().to_numpy() & (tables[name][column].fill_null(0.0) > 5).to_numpy()
        right = _at(tables[name], _draw(rng, free[name], known, conflict))
        other = right.with_columns((pl.col(column) * factor).round(1))
        now[name] = pl.concat([now[name], other])
        later[name].append(right)
        listed.append(_list(name, column, right, other, CONFLICT))


def _draw(rng: np.random.Generator, free: np.ndarray, can: np.ndarray | bool, share: float) -> np.ndarray:
    """Rows that slip, of those that can; they are not free any more. One draw a row, whatever the share."""
    chosen = (rng.random(len(free)) < share) & free & can
    free &= ~chosen
    return np.flatnonzero(chosen)


def _at(frame: pl.DataFrame, rows: np.ndarray) -> pl.DataFrame:
    return frame[rows]


def _put(frame: pl.DataFrame, rows: np.ndarray, changed: pl.DataFrame) -> pl.DataFrame:
    """The frame with those rows changed, in the same order."""
    if not len(rows):
        return frame
    place = pl.Series("place", np.arange(frame.height))
    kept = frame.with_columns(place)[np.setdiff1d(np.arange(frame.height), rows)]
    new = changed.with_columns(pl.Series("place", rows, dtype=place.dtype))
    return pl.concat([kept, new]).sort("place").drop("place")


def _list(table: str, column: str, right: pl.DataFrame, wrong: pl.DataFrame, becomes: str) -> pl.DataFrame:
    """Rows of the list of slips."""
    own = [name for name in JOB_LOG[table].key if name not in ("firm_id", "job_id")]
    row_key = pl.concat_str([pl.col(name).cast(pl.String) for name in own], separator=" ") if own else pl.lit("")

    def cells(frame: pl.DataFrame) -> pl.Series:
        return frame[column].cast(pl.String) if column else pl.Series(np.full(frame.height, None), dtype=pl.String)

    return (
        right.select("firm_id", "job_id", row_key.alias("row_key"))
        .with_columns(
            pl.lit(table).alias("table"),
            pl.lit(column).alias("column"),
            cells(right).alias("right"),
            cells(wrong).alias("written"),
            pl.lit(becomes).alias("becomes"),
        )
        .select(SLIP_SCHEMA.keys())
    )
