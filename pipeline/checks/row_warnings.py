"""What deserves a look in one job: unusual values, and rows that do not agree with the rest of the job."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.store.book import read_records

_OF_ROWS = """
select table_name, null as row_key, file, line, column_name, value, reason from row_warnings
where firm_id = $firm_id and job_id = $job_id
"""
_OF_JOB = """
select table_name, row_key, null as file, null as line, column_name, value, reason from job_warnings
where firm_id = $firm_id and job_id = $job_id
"""
_PLACES = {"jobs": "The job", "catches": "Weighing", "readings": "The reading of"}


@dataclass(frozen=True, slots=True)
class RowWarning:
    """One warning on an accepted row.

    A value outside its usual range is placed by `file` and `line`; a row that does not agree with the
    rest of its job by `key`: the number of the weighing, the time of the reading, the job's own name.
    An empty `column` means the row as a whole.
    """

    table: str
    key: str | None
    file: str | None
    line: int | None
    column: str
    value: str | None
    reason: str

    @property
    def sentence(self) -> str:
        """The warning as one sentence, such as `Weighing 3: caught_at 2031-03-04T08:00 is before flush_started_at.`"""
        if self.key is None:
            return f"{self.file} line {self.line}: {self.column} {self.value} is {self.reason}."
        if not self.column:
            return f"{_PLACES[self.table]} {self.key} {self.reason}."
        joint = ":" if self.reason.startswith("wet / dry") else " is"
        return f"{_PLACES[self.table]} {self.key}: {self.column} {self.value}{joint} {self.reason}."


def warnings_of_job(build: Path, firm_id: str, job_id: str) -> tuple[RowWarning, ...]:
    """Every warning on the rows of one job, table by table, those of single values first."""
    found = []
    for query in (_OF_ROWS, _OF_JOB):
        for row in read_records(build, query, firm_id=firm_id, job_id=job_id):
            found.append(RowWarning(row.pop("table_name"), row.pop("row_key"), column=row.pop("column_name"), **row))
    return tuple(sorted(found, key=lambda each: (each.table, each.line or 0, each.key or "", each.column, each.reason)))
