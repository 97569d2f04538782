"""What leaves a firm's book for a pool: ids as keyed hashes, no free text, no place.

The key is the book's own and never leaves it: the firm can find its own jobs in the pool, nobody else can. A job id is
hashed together with its firm, so that the same number in two firms is two jobs.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Mapping

import polars as pl

from pipeline.contract import JOB_LOG

SIMULATED = "sim-"
LEFT_OUT = ("postcode_district", "room", "note")
"""Columns that may tell a place or a person: empty in a pool."""
FREE_CHOICES = ("file", "value")
"""Columns of the account of rows that hold a firm's own words."""
_LETTERS = 20
"""Of base32: 100 bits, so that two ids of a pool of a thousand million never meet."""
_NUMBER_BITS = 40
_BATCHES = 1 << 22


def hidden_firm(key: bytes, firm_id: str) -> str:
    """The firm's id in a pool; a simulated firm stays known as one."""
    return (SIMULATED if firm_id.startswith(SIMULATED) else "") + _hash(key, "firm", firm_id)


def _hash(key: bytes, *parts: str) -> str:
    said = "\x00".join(parts).encode()
    return base64.b32encode(hmac.new(key, said, hashlib.sha256).digest())[:_LETTERS].decode().lower()


def first_batch_no(firm: str) -> int:
    """Where the numbers of a firm's batches begin in a pool: firms never share one, their order within a firm stays."""
    digest = hashlib.sha256(firm.encode()).digest()
    return (int.from_bytes(digest[:8], "big") >> (64 - _NUMBER_BITS)) * _BATCHES


def hidden_rows(frame: pl.DataFrame, key: bytes, firm_id: str) -> pl.DataFrame:
    """A firm's rows of one table as a pool may hold them."""
    firm = hidden_firm(key, firm_id)
    made: list[pl.Expr] = []
    if "firm_id" in frame.columns:
        made.append(pl.lit(firm).alias("firm_id"))
    for name in ("job_id", "engineer_id"):
        if name in frame.columns:
            made.append(pl.col(name).replace_strict(_ids(frame[name], key, firm_id, name), return_dtype=pl.String))
    if "batch_no" in frame.columns:
        made.append(pl.col("batch_no") + first_batch_no(firm))
    if "batch_id" in frame.columns:
        made.append(_batch_ids(frame, key, firm))
    empty = [name for name in (*LEFT_OUT, "value") if name in frame.columns]
    made += [pl.lit(None, dtype=frame.schema[name]).alias(name) for name in empty]
    if "file" in frame.columns:
        made.append(pl.format("file {}", "source_no").alias("file"))
    return frame.with_columns(made)


def _ids(column: pl.Series, key: bytes, firm_id: str, name: str) -> Mapping[str, str]:
    return {each: _hash(key, name, firm_id, each) for each in column.drop_nulls().unique()}


def _batch_ids(frame: pl.DataFrame, key: bytes, firm: str) -> pl.Expr:
    known = {each: f"{firm}-{_hash(key, 'batch', each)[:12]}" for each in frame["batch_id"].drop_nulls().unique()}
    return pl.col("batch_id").replace_strict(known, return_dtype=pl.String)


TEXT_KEPT = frozenset(
    column.name
    for table in JOB_LOG.values()
    for column in table.columns
    if column.kind == "text" and column.name not in (*LEFT_OUT, "firm_id", "job_id", "engineer_id")
)
"""Free text that would go into a pool as it is: none, held by a test."""
