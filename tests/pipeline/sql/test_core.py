"""Core tables: the rows that count, whole, whether their job came once or was compared row by row."""

from __future__ import annotations

import pytest

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column
from tests.pipeline.sql.on_rows import check, rows_of

TABLES = [name for name in JOB_LOG if name != "jobs"]
# firm, job, batch, source, line: what came once and counts; what came once and does not; what was compared
ONCE = [("n", "a", 1, 1, 2), ("n", "a", 1, 1, 3), ("s", "b", 1, 2, 2)]
NOT = [("s", "a", 1, 1, 4), ("n", "b", 1, 2, 3), ("n", "c", 1, 1, 6), ("s", "d", 1, 1, 7)]
COMPARED = [("n", "v", 2, 2, 9), ("s", "v", 1, 1, 8)]
LOST = [("n", "v", 1, 2, 9), ("n", "v", 2, 1, 9), ("n", "v", 2, 2, 8), ("s", "v", 1, 1, 9)]
STATES = """
batch_no | source_no | line | firm_id | job_id | status
2        | 2         | 9    | n       | v      | accepted
1        | 1         | 8    | s       | v      | accepted
1        | 2         | 9    | n       | v      | superseded
2        | 1         | 9    | n       | v      | duplicate
"""


def value_of(column: Column, number: int) -> str:
    """A value that no other column of the table and no other row has."""
    return {
        "number": f"{number}.5",
        "integer": str(number),
        "yes_no": "true" if number % 2 else "false",
        "date": f"{number // 365 + 1900}-01-01",
        "time": f"{number // 365 + 1900}-01-01 10:00",
    }.get(column.kind, f"t{number}")


def lines_of(table: str, rows: list[tuple[str, str, int, int, int]]) -> list[str]:
    """Rows of a table, every column filled, as a text of cells without a heading."""
    own = [column for column in JOB_LOG[table].columns if column.name not in ("firm_id", "job_id")]
    lines = []
    for row in rows:
        cells = [value_of(column, 1000 * place + 10 * row[4] + row[2]) for place, column in enumerate(own, start=1)]
        lines.append(" | ".join([*map(str, row[:2]), *cells]))
    return lines


def text_of(table: str, rows: list[tuple[str, str, int, int, int]]) -> str:
    head = [*JOB_LOG[table].names, "batch_no", "source_no", "line"]
    marked = [f"{line} | {r[2]} | {r[3]} | {r[4]}" for line, r in zip(lines_of(table, rows), rows, strict=True)]
    return "\n".join([" | ".join(head), *marked])


@pytest.mark.parametrize("table", TABLES)
def test_a_core_table_holds_the_whole_row_of_what_counts_and_nothing_else(table: str) -> None:
    spans = f"""
    table_name | firm_id | job_id | status
    {table}    | n       | a      | accepted
    {table}    | s       | b      | accepted
    {table}    | s       | a      | waiting
    {table}    | n       | v      | compared
    {table}    | s       | v      | compared
    other      | n       | c      | accepted
    """
    found = rows_of(
        f"core/{table}",
        JOB_LOG[table].names,
        stg_spans=spans,
        **{f"stg_{table}": STATES, f"checked_{table}": text_of(table, ONCE + NOT + COMPARED + LOST)},
    )
    wanted = [tuple(cell.strip() for cell in line.split("|")) for line in lines_of(table, ONCE + COMPARED)]
    assert sorted(found) == sorted(wanted)


def test_a_job_counts_whole_and_carries_the_day_on_which_its_batch_was_loaded() -> None:
    found = rows_of(
        "core/jobs",
        (*JOB_LOG["jobs"].names, "loaded_on", "is_simulated"),
        stg_job_spans="""
        firm_id | job_id | status
        n       | a      | accepted
        s       | b      | accepted
        s       | a      | compared
        n       | v      | compared
        """,
        stg_jobs=STATES,
        checked_sources="""
        batch_no | source_no | loaded_on
        1        | 1         | 10
        1        | 2         | 10
        2        | 1         | 11
        2        | 2         | 11
        """,
        checked_jobs=text_of("jobs", ONCE + NOT + COMPARED + LOST),
    )
    kept = ONCE + COMPARED
    wanted = [
        (*(cell.strip() for cell in line.split("|")), "10" if row[2] == 1 else "11", "false")
        for line, row in zip(lines_of("jobs", kept), kept, strict=True)
    ]
    assert sorted(found) == sorted(wanted)


def test_a_job_is_simulated_where_its_firm_says_so() -> None:
    check(
        "core/jobs",
        """
        firm_id | is_simulated
        sim-1   | true
        sim-2   | true
        simon   | false
        my-sim- | false
        """,
        stg_job_spans="""
        firm_id | job_id | status
        sim-1   | a      | accepted
        my-sim- | a      | accepted
        """,
        stg_jobs="batch_no | source_no | line | status \n 1 | 1 | 2 | accepted \n 1 | 1 | 3 | accepted",
        checked_sources="batch_no | loaded_on \n 1 | 10",
        checked_jobs="""
        firm_id | job_id | batch_no | source_no | line
        sim-1   | a      | 1        | 1         | 9
        my-sim- | a      | 1        | 1         | 8
        sim-2   | b      | 1        | 1         | 2
        simon   | b      | 1        | 1         | 3
        """,
    )
