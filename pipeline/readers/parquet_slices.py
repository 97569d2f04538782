"""A Parquet file in slices of rows, so that files larger than memory can be read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import polars as pl

from pipeline.readers.limits import unique_headings
from pipeline.readers.typed_rows import check_shape
from pipeline.readers.xlsx import refused

SLICE_ROWS = 1_000_000


def parquet_headings(path: Path, name: str) -> tuple[str, ...]:
    """Headings of a Parquet file, without its rows; BadInput in a sentence when it is none."""
    import pyarrow.parquet as arrow_parquet

    with refused(name, "PARQUET table"), arrow_parquet.ParquetFile(path) as file:
        facts = file.metadata
        check_shape(facts.num_rows, facts.num_columns, path.stat().st_size, name)
        return tuple(unique_headings(name, file.schema_arrow.names))


def parquet_slices(path: Path, name: str, rows: int = SLICE_ROWS) -> Iterator[pl.DataFrame]:
    """The rows in order, at most `rows` at a time, under trimmed small headings; BadInput when damaged."""
    import pyarrow as pa
    import pyarrow.parquet as arrow_parquet

    headings = parquet_headings(path, name)
    with refused(name, "PARQUET table"), arrow_parquet.ParquetFile(path) as file:
        for batch in file.iter_batches(batch_size=rows):
            frame = pl.from_arrow(pa.Table.from_batches([batch]))
            assert isinstance(frame, pl.DataFrame)
            frame.columns = list(headings)
            yield frame
