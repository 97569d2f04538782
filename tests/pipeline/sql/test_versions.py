"""Staging of rows that must be compared: which version counts, what is a repeat, what waits, what lies outside."""

from __future__ import annotations

import pytest

from pipeline.contract import JOB_LOG
from tests.pipeline.sql.on_rows import cells_of, check, rows_of

# table → what stands for its key, and a column whose content is A or B
KEYS = {
    "emitters": ("emitter_no", {f"k{n}": str(n) for n in range(1, 6)}, "length_mm", {"A": "500", "B": "900"}),
    "pipe_runs": ("run_no", {f"k{n}": str(n) for n in range(1, 6)}, "length_m", {"A": "5", "B": "9"}),
    "catches": ("catch_no", {f"k{n}": str(n) for n in range(1, 6)}, "mass_g", {"A": "50", "B": "90"}),
    "readings": ("read_at", {f"k{n}": f"04 10:0{n}" for n in range(1, 6)}, "flow_l_min", {"A": "5", "B": "9"}),
    "callbacks": (
        "called_back_on",
        {f"k{n}": f"0{n + 3}" for n in range(1, 6)},
        "debris_related",
        {"A": "true", "B": "false"},
    ),
}
MOMENTS = {"catches": {"caught_at": "04 12:00"}, "callbacks": {"cause": "leak"}}

SPANS = """
table_name | firm_id | job_id | status
{table}    | n       | a      | compared
{table}    | n       | a      | compared
{table}    | s       | a      | compared
{table}    | n       | b      | compared
{table}    | n       | w      | compared
{table}    | s       | b      | accepted
{table}    | n       | c      | waiting
jobs       | n       | d      | compared
"""
VISITS = """
firm_id | job_id | opens_at  | closes_at
n       | a      | 04 00:00  | 12 00:00
s       | a      | 04 00:00  | 12 00:00
n       | b      | 04 00:00  | 12 00:00
s       | b      | 04 00:00  | 12 00:00
s       | w      | 04 00:00  | 12 00:00
"""
# newest last in the list would be too kind: the rows lie as they may lie in Parquet. The last column is what is expected
ROWS = """
firm_id | job_id | batch_no | source_no | line | key | content | status
n       | a      | 2        | 1         | 2    | k1  | B       | duplicate
n       | a      | 1        | 2         | 2    | k1  | B       | accepted
n       | a      | 1        | 1         | 9    | k1  | A       | superseded
n       | a      | 3        | 1         | 2    | k2  | A       | accepted
n       | a      | 2        | 1         | 3    | k2  | B       | superseded
n       | a      | 1        | 2         | 7    | k2  | A       | superseded
n       | a      | 1        | 1         | 6    | k3  | B       | accepted
n       | a      | 1        | 1         | 5    | k3  | A       | superseded
n       | a      | 1        | 1         | 8    | k4  | A       | duplicate
n       | a      | 1        | 1         | 7    | k4  | A       | accepted
n       | a      | 2        | 1         | 10   | k5  | A       | accepted
n       | a      | 1        | 2         | 10   | k5  | B       | superseded
s       | a      | 1        | 3         | 2    | k1  | B       | accepted
s       | a      | 2        | 3         | 2    | k2  | B       | accepted
n       | b      | 1        | 1         | 30   | k1  | B       | accepted
n       | b      | 1        | 1         | 31   | k2  | A       | accepted
n       | b      | 1        | 1         | 32   | k2  | A       | duplicate
n       | b      | 1        | 1         | 33   | k2  | A       | duplicate
n       | w      | 2        | 1         | 40   | k1  | A       | waiting
n       | w      | 3        | 1         | 41   | k1  | A       | duplicate
n       | w      | 1        | 1         | 42   | k1  | B       | superseded
"""
# rejected by its own faults, not compared at all, or compared for another table
LEFT_OUT = """
n | a | 1 | 1 | 10 | k5 | A | -
s | b | 1 | 1 | 50 | k1 | A | -
n | c | 1 | 1 | 51 | k1 | A | -
n | d | 1 | 1 | 52 | k1 | A | -
"""
REJECTS = """
batch_no | source_no | line
1        | 1         | 10
9        | 9         | 9
"""


def as_rows(table: str, text: str) -> str:
    """The rows above in the columns of a table."""
    key, keys, content, contents = KEYS[table]
    more = MOMENTS.get(table, {})
    head = ["firm_id", "job_id", "batch_no", "source_no", "line", key, content, *more]
    rows = [[*row[:5], keys[row[5]], contents[row[6]], *more.values()] for row in cells_of(text)]
    return "\n".join(" | ".join(row) for row in [head, *rows])


@pytest.mark.parametrize("table", KEYS)
def test_the_newest_version_of_a_row_counts_and_a_repeat_is_a_duplicate(table: str) -> None:
    head, *rows = cells_of(ROWS)
    given = as_rows(table, "\n".join(" | ".join(row) for row in rows) + LEFT_OUT)
    places = [head.index(name) for name in ("firm_id", "job_id", "batch_no", "source_no", "line", "status")]
    wanted = [tuple(row[place] for place in places) for row in rows]
    found = rows_of(
        f"staging/stg_{table}",
        ("firm_id", "job_id", "batch_no", "source_no", "line", "status"),
        stg_spans=SPANS.format(table=table),
        stg_visits=VISITS,
        checked_rejects=REJECTS,
        **{f"checked_{table}": given},
    )
    assert sorted(found) == sorted(wanted)


def test_the_newest_version_of_a_job_counts() -> None:
    check(
        "staging/stg_jobs",
        first=("staging/stg_job_words",),
        expected="""
        firm_id | job_id | batch_no | source_no | line | status
        n       | a      | 2        | 1         | 2    | duplicate
        n       | a      | 1        | 2         | 2    | accepted
        n       | a      | 1        | 1         | 9    | superseded
        s       | a      | 3        | 1         | 2    | accepted
        s       | a      | 2        | 1         | 10   | superseded
        s       | a      | 1        | 2         | 10   | superseded
        n       | b      | 1        | 1         | 6    | accepted
        n       | b      | 1        | 1         | 5    | superseded
        s       | c      | 1        | 1         | 8    | duplicate
        s       | c      | 1        | 1         | 7    | accepted
        """,
        stg_job_spans="""
        table_name | firm_id | job_id | status
        jobs       | n       | a      | compared
        jobs       | n       | a      | compared
        jobs       | s       | a      | compared
        jobs       | n       | b      | compared
        jobs       | s       | c      | compared
        jobs       | s       | b      | accepted
        catches    | n       | e      | compared
        """,
        checked_rejects=REJECTS,
        checked_jobs="""
        firm_id | job_id | batch_no | source_no | line | crew_size
        n       | a      | 2        | 1         | 2    | 2
        n       | a      | 1        | 2         | 2    | 2
        n       | a      | 1        | 1         | 9    | 1
        n       | a      | 1        | 1         | 10   | 5
        s       | a      | 3        | 1         | 2    | 1
        s       | a      | 2        | 1         | 10   | 2
        s       | a      | 1        | 2         | 10   | 1
        n       | b      | 1        | 1         | 6    | 1
        n       | b      | 1        | 1         | 5    | 2
        s       | c      | 1        | 1         | 8    | 1
        s       | c      | 1        | 1         | 7    | 1
        s       | b      | 1        | 1         | 20   | 1
        n       | d      | 1        | 1         | 21   | 1
        n       | e      | 1        | 1         | 22   | 1
        """,
    )


TWO_VALUES = {
    "text": ("x", "y"),
    "choice": ("x", "y"),
    "integer": ("1", "2"),
    "number": ("1.5", "2.5"),
    "yes_no": ("true", "false"),
    "date": ("04", "05"),
    "time": ("04 10:00", "04 10:01"),
}


FIXED = {
    "emitter_no": "1",
    "run_no": "1",
    "catch_no": "1",
    "read_at": "04 10:00",
    "called_back_on": "04",
    "cause": "leak",
}


@pytest.mark.parametrize("table", JOB_LOG)
def test_another_value_of_any_one_column_is_another_version(table: str) -> None:
    """Each column has a job of its own: its value changes, goes, and comes back."""
    columns = [column for column in JOB_LOG[table].columns if column.name not in JOB_LOG[table].key]
    fixed = {name: FIXED[name] for name in JOB_LOG[table].key[2:]}
    head = ["firm_id", "job_id", "batch_no", "source_no", "line", *fixed, *(c.name for c in columns)]
    rows, spans = [head], [["table_name", "firm_id", "job_id", "status"]]
    for place, column in enumerate(columns):
        spans.append([table, "n", column.name, "compared"])
        for batch, value in enumerate((*TWO_VALUES[column.kind], "-", "-", TWO_VALUES[column.kind][0]), start=1):
            cells = [value if at == place else "-" for at in range(len(columns))]
            rows.append(["n", column.name, str(batch), "1", "2", *fixed.values(), *cells])
    given, spanned = ("\n".join(" | ".join(row) for row in each) for each in (rows, spans))
    spans_of = "stg_job_spans" if table == "jobs" else "stg_spans"
    first = ("staging/stg_job_words",) if table == "jobs" else ()
    found = rows_of(
        f"staging/stg_{table}",
        ("job_id", "batch_no", "status"),
        first=first,
        **{spans_of: spanned, f"checked_{table}": given},
    )
    counts = "accepted" if table == "jobs" else "waiting"
    states = ("superseded", "superseded", "superseded", "duplicate", counts)
    assert sorted(found) == sorted((c.name, str(n), state) for c in columns for n, state in enumerate(states, start=1))


def test_a_text_that_moves_from_one_column_to_the_next_is_another_version() -> None:
    check(
        "staging/stg_catches",
        """
        batch_no | status
        1        | superseded
        2        | waiting
        """,
        stg_spans="table_name | firm_id | job_id | status \n catches | n | a | compared",
        checked_catches="""
        firm_id | job_id | catch_no | batch_no | source_no | line | weighed | note
        n       | a      | 1        | 1        | 1         | 2    | x y     | z
        n       | a      | 1        | 2        | 1         | 2    | x       | y z
        """,
    )


EDGES = """
firm_id | job_id | opens_at  | closes_at
n       | a      | 04 00:00  | 05 00:00
s       | a      | 02 00:00  | 03 00:00
n       | b      | 02 00:00  | 03 00:00
"""
BEFORE, AFTER = "before visit_date", "after the last day on site"


def test_a_weighing_counts_from_the_first_moment_of_the_visit_to_its_last() -> None:
    check(
        "staging/stg_catches",
        f"""
        firm_id | job_id | batch_no | line | column_name | value               | reason   | status
        n       | a      | 1        | 2    | caught_at   | 2025-03-03T23:59:59 | {BEFORE} | rejected
        n       | a      | 1        | 3    | caught_at   | 2025-03-04T00:00    | -        | accepted
        n       | a      | 1        | 4    | caught_at   | 2025-03-05T00:00    | -        | accepted
        n       | a      | 1        | 5    | caught_at   | 2025-03-05T00:01    | {AFTER}  | rejected
        n       | a      | 1        | 6    | caught_at   | 2025-03-04T10:00    | -        | accepted
        n       | a      | 2        | 6    | caught_at   | 2025-03-03T10:00    | {BEFORE} | rejected
        n       | a      | 3        | 6    | caught_at   | 2025-03-04T10:00    | -        | duplicate
        n       | w      | 1        | 7    | caught_at   | 2025-03-03T10:00    | -        | waiting
        """,
        stg_spans="table_name | firm_id | job_id | status \n catches | n | a | compared \n catches | n | w | compared",
        stg_visits=EDGES,
        checked_catches="""
        firm_id | job_id | batch_no | source_no | line | catch_no | caught_at
        n       | a      | 1        | 1         | 2    | 1        | 03 23:59:59
        n       | a      | 1        | 1         | 3    | 2        | 04 00:00
        n       | a      | 1        | 1         | 4    | 3        | 05 00:00
        n       | a      | 1        | 1         | 5    | 4        | 05 00:01
        n       | a      | 3        | 1         | 6    | 5        | 04 10:00
        n       | a      | 2        | 1         | 6    | 5        | 03 10:00
        n       | a      | 1        | 1         | 6    | 5        | 04 10:00
        n       | w      | 1        | 1         | 7    | 1        | 03 10:00
        """,
    )


def test_a_reading_counts_from_the_first_moment_of_the_visit_to_its_last() -> None:
    check(
        "staging/stg_readings",
        f"""
        firm_id | job_id | line | column_name | value               | reason   | status
        n       | a      | 2    | read_at     | 2025-03-03T23:59:59 | {BEFORE} | rejected
        n       | a      | 3    | read_at     | 2025-03-04T00:00    | -        | accepted
        n       | a      | 4    | read_at     | 2025-03-05T00:00    | -        | accepted
        n       | a      | 5    | read_at     | 2025-03-05T00:01    | {AFTER}  | rejected
        n       | w      | 7    | read_at     | 2025-03-03T10:00    | -        | waiting
        """,
        stg_spans="table_name | firm_id | job_id | status \n readings | n | a | compared \n readings | n | w | compared",
        stg_visits=EDGES,
        checked_readings="""
        firm_id | job_id | batch_no | source_no | line | read_at
        n       | a      | 1        | 1         | 2    | 03 23:59:59
        n       | a      | 1        | 1         | 3    | 04 00:00
        n       | a      | 1        | 1         | 4    | 05 00:00
        n       | a      | 1        | 1         | 5    | 05 00:01
        n       | w      | 1        | 1         | 7    | 03 10:00
        """,
    )


def test_a_callback_counts_from_the_day_of_the_visit_and_two_causes_on_one_day_are_two() -> None:
    check(
        "staging/stg_callbacks",
        f"""
        firm_id | job_id | line | column_name    | value      | reason   | status
        n       | a      | 2    | called_back_on | 2025-03-03 | {BEFORE} | rejected
        n       | a      | 3    | called_back_on | 2025-03-04 | -        | accepted
        n       | a      | 4    | called_back_on | 2026-03-04 | -        | accepted
        n       | a      | 5    | called_back_on | 2026-03-04 | -        | accepted
        n       | a      | 6    | called_back_on | 2025-03-03 | {BEFORE} | rejected
        n       | w      | 7    | called_back_on | 2025-03-03 | -        | waiting
        """,
        stg_spans="table_name | firm_id | job_id | status \n callbacks | n | a | compared \n callbacks | n | w | compared",
        stg_visits=EDGES,
        checked_callbacks="""
        firm_id | job_id | batch_no | source_no | line | called_back_on | cause
        n       | a      | 1        | 1         | 2    | 03             | leak
        n       | a      | 1        | 1         | 3    | 04             | leak
        n       | a      | 1        | 1         | 4    | 2026-03-04     | leak
        n       | a      | 1        | 1         | 5    | 2026-03-04     | noise
        n       | a      | 1        | 1         | 6    | 03             | leak
        n       | w      | 1        | 1         | 7    | 03             | leak
        """,
    )
