"""Checked rows on disk, read whatever their folder is called.

What reads many files takes `[`, `*` and `?` in a path for a pattern, and a folder named `year=2025` for a column.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from glob import escape
from pathlib import Path

import polars as pl


def every_file(folder: Path, files: str = "*.parquet") -> str:
    """The pattern of files in a folder, the folder itself taken letter by letter.

    >>> every_file(Path("book [1]"), "001-*.parquet").replace(os.sep, "/")
    'book [[]1]/001-*.parquet'
    """
    return os.path.join(escape(str(folder)), files)


def read_checked(path: Path) -> pl.DataFrame:
    """The rows of one file."""
    return pl.read_parquet(path, glob=False, hive_partitioning=False)


def scan_checked(folders: Iterable[Path], files: str = "*.parquet") -> pl.LazyFrame:
    """The rows of these files in all of the folders, in the order of the folders."""
    return pl.scan_parquet([every_file(folder, files) for folder in folders], hive_partitioning=False)
