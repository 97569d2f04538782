"""Take a firm out of a pool, whole: its rows, its tables, its place in the build."""

from __future__ import annotations

import shutil

from pipeline.pool.build_pool import without_firm
from pipeline.pool.lake import NEWEST, Lake, PoolError


def withdraw(lake: Lake, firm: str) -> None:
    """Remove every row of a firm from the lake. PoolError where the pool holds no such firm.

    Forecasts learnt while it was there keep what they learnt; `sludgebook train` learns without it.
    """
    lake.check()
    with lake.lock():
        home = lake.firms / firm
        if firm.startswith(".") or not home.is_dir() or home.parent != lake.firms:
            raise PoolError(f"The pool {lake.path} holds no firm {firm}.")
        (home / NEWEST).unlink(missing_ok=True)
        without_firm(lake, firm)
        shutil.rmtree(home)
