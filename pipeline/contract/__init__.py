"""The contract: every table and column of the job log and of a build, in one place to import.

`JOB_LOG` is what a firm hands in (`pipeline/contract/job_log.py`); `BUILT` is what a build holds
(`pipeline/contract/built_tables.py`). SQL tests, axis titles, templates, table comments and the glossary all
read it from here.
"""

from __future__ import annotations

from types import MappingProxyType

from pipeline.contract import built_tables, job_log
from pipeline.contract.columns import Column, Table

JOB_LOG = MappingProxyType({table.name: table for table in job_log.TABLES})
BUILT = MappingProxyType({table.name: table for table in built_tables.TABLES})

CONTRACT_VERSION = 4
"""Raised whenever a book made earlier must be built again from `received/`."""

DEFAULT_FIRM_ID = "own"
"""What stands for the firm when `firm_id` is left out of every table."""

SIMULATED_PREFIX = "sim-"
"""A `firm_id` that begins so marks simulated jobs, wherever the rows travel."""

__all__ = ["BUILT", "CONTRACT_VERSION", "DEFAULT_FIRM_ID", "JOB_LOG", "SIMULATED_PREFIX", "Column", "Table"]
