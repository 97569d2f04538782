"""The core tables of a build: the job log as it counts today, and the account of every row received."""

from __future__ import annotations

from pipeline.contract import job_log
from pipeline.contract.columns import Column, Kind, KnownBy, Table

FIRM = Column("firm_id", "text", "Contractor or branch", known_by="key")
JOB = Column("job_id", "text", "Job, unique within the firm", known_by="key")


def built_column(
    name: str, kind: Kind, unit: str, known_by: KnownBy, meaning: str, choices: tuple[str, ...] = ()
) -> Column:
    """A column of a build; never required, for a feature may be unknown."""
    return Column(name, kind, meaning, unit, known_by, choices=choices)


def _core(table: Table, *extra: Column) -> Table:
    return Table(table.name, table.grain, table.key, (*table.columns, *extra), table.optional)


CORE = (
    _core(
        job_log.JOBS,
        built_column("loaded_on", "date", "", "after", "Day on which this version of the row was loaded"),
        built_column("is_simulated", "yes_no", "", "survey", "The job was made by the simulator"),
    ),
    *(_core(table) for table in job_log.TABLES[1:]),
)

LEDGER = Table(
    "ledger",
    "one row a batch, file and table",
    ("batch_id", "file", "table_name"),
    (
        built_column("batch_id", "text", "", "key", "Batch"),
        built_column("batch_no", "integer", "", "key", "Order in which batches were received"),
        built_column("file", "text", "", "key", "File as it came"),
        built_column("table_name", "text", "", "key", "Table of the job log"),
        built_column("rows", "integer", "count", "after", "Rows in the file"),
        built_column("accepted", "integer", "count", "after", "Rows that count"),
        built_column("rejected", "integer", "count", "after", "Rows that break a rule"),
        built_column("duplicates", "integer", "count", "after", "Rows already in the book with the same content"),
        built_column("waiting", "integer", "count", "after", "Rows whose job has not been accepted yet"),
        built_column("superseded", "integer", "count", "after", "Rows of which a later version counts"),
    ),
)

REJECTS = Table(
    "rejects",
    "one row a fault of a rejected row",
    ("batch_id", "file", "table_name", "line", "column_name", "reason"),
    (
        built_column("batch_id", "text", "", "key", "Batch"),
        built_column("file", "text", "", "key", "File as it came"),
        built_column("table_name", "text", "", "key", "Table of the job log"),
        built_column("line", "integer", "", "key", "Line in the file, the heading is line 1"),
        built_column("column_name", "text", "", "key", "Column at fault; empty: the row"),
        built_column("value", "text", "", "after", "Value as it came"),
        built_column("reason", "text", "", "key", "What is wrong with it"),
    ),
)

ROW_WARNINGS = Table("row_warnings", "one row a warning on an accepted row", REJECTS.key, (*REJECTS.columns, FIRM, JOB))

JOB_WARNINGS = Table(
    "job_warnings",
    "one row a warning on the rows of a job",
    ("firm_id", "job_id", "table_name", "row_key", "column_name", "reason"),
    (
        FIRM,
        JOB,
        built_column("table_name", "text", "", "key", "Table of the job log"),
        built_column("row_key", "text", "", "key", "Weighing, time of the reading or job that it is about"),
        built_column("column_name", "text", "", "key", "Column to look at; empty: the row"),
        built_column("value", "text", "", "after", "Value as it counts"),
        built_column("reason", "text", "", "key", "What does not agree"),
    ),
)

BATCH_NO = built_column("batch_no", "integer", "", "key", "Order in which batches were received")
SOURCE_NO = built_column("source_no", "integer", "", "key", "Table of a file within the batch")

JOB_LEDGER = Table(
    "job_ledger",
    "one row a source, table, job and state",
    ("batch_no", "source_no", "table_name", "firm_id", "job_id", "status"),
    (
        BATCH_NO,
        SOURCE_NO,
        built_column("table_name", "text", "", "key", "Table of the job log"),
        FIRM,
        JOB,
        built_column(
            "status",
            "text",
            "",
            "key",
            "What became of the rows",
            ("accepted", "rejected", "duplicate", "waiting", "superseded"),
        ),
        built_column("rows", "integer", "count", "after", "Rows"),
    ),
)

VISIT_REJECTS = Table(
    "visit_rejects",
    "one row a row rejected because of its job",
    ("batch_no", "source_no", "line"),
    (
        BATCH_NO,
        SOURCE_NO,
        built_column("line", "integer", "", "key", "Line in the file, the heading is line 1"),
        FIRM,
        JOB,
        built_column("column_name", "text", "", "after", "Column at fault"),
        built_column("value", "text", "", "after", "Value as it came"),
        built_column("reason", "text", "", "after", "What is wrong with it"),
    ),
)

FOLLOW_UP_END = Table(
    "follow_up_end",
    "one row a firm that has handed in callbacks",
    ("firm_id",),
    (
        FIRM,
        built_column(
            "callbacks_known_to",
            "date",
            "",
            "after",
            "Last day on which callbacks of the firm were handed in; a table of callbacks without a row counts in a "
            "book of one firm",
        ),
    ),
)

TABLES = (*CORE, JOB_LEDGER, LEDGER, VISIT_REJECTS, REJECTS, ROW_WARNINGS, JOB_WARNINGS, FOLLOW_UP_END)
