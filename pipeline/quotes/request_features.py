"""Features of quote requests: the feature files of the build, run in memory over the requests alone.

One database in memory serves all requests of a process: opening one takes longer than its answer. Each
request is a transaction that is rolled back, so that nothing of it stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from threading import Lock

import duckdb
import polars as pl

from pipeline.build import REQUEST_STEPS, attach_settings, put_table, run_steps
from pipeline.contract.firm import Firm
from pipeline.store.book import open_memory

_ORDERED = {
    "ftr_quote": "select f.* from request_order as o join ftr_quote as f using (firm_id, job_id) order by o.row_no",
    "ftr_volume": "select f.* from request_order as o join ftr_volume as f using (firm_id, job_id) order by o.row_no",
}
_TIE = ["firm_id", "job_id"]
_ONE_AT_A_TIME = Lock()


def request_tables(firm: Firm, tables: Mapping[str, pl.DataFrame]) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Features of quote requests by the same SQL as history: (`ftr_quote`, `ftr_volume`), in their order.

    `tables` holds `jobs`, `emitters`, `pipe_runs` with the columns of the core tables, one row a job in `jobs`.
    """
    with _ONE_AT_A_TIME:
        connection = _kept(firm)
        for name, frame in tables.items():
            put_table(connection, name, frame)
        put_table(connection, "request_order", tables["jobs"].select(_TIE).with_row_index("row_no"))
        connection.execute("begin")
        try:
            run_steps(connection, REQUEST_STEPS)
            features, volumes = (pl.DataFrame(connection.sql(query)) for query in _ORDERED.values())
        finally:
            connection.execute("rollback")
    return features, volumes


@lru_cache(maxsize=1)
def _kept(firm: Firm) -> duckdb.DuckDBPyConnection:
    """A database in memory that knows the trade tables and the firm's settings."""
    connection = open_memory()
    attach_settings(connection, firm)
    return connection
