"""The account of every row received: five states that add up, rejects and warnings with their file and line."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check

SOURCES = """
batch_no | source_no | batch_id | file   | table_name | rows | loaded_on
1        | 1         | b1       | x.csv  | catches    | 15   | 10
1        | 2         | b1       | y.csv  | catches    | 4    | 10
2        | 1         | b2       | x.csv  | catches    | 8    | 11
2        | 2         | b2       | z.csv  | jobs       | 0    | 11
"""


def test_the_five_states_add_up_to_the_rows_where_a_row_has_two_faults() -> None:
    """15 = 3 + 2 (of n a and s a) + 2 rejected of their jobs + 3 rejected rows (four faults) + 1 + 1 + 3 others."""
    check(
        "core/ledger",
        """
        batch_id | batch_no | file  | table_name | rows | accepted | rejected | duplicates | waiting | superseded
        b1       | 1        | x.csv | catches    | 15   | 5        | 5        | 1          | 1       | 3
        b1       | 1        | y.csv | catches    | 4    | 4        | 0        | 0          | 0       | 0
        b2       | 2        | x.csv | catches    | 8    | 0        | 1        | 2          | 4       | 1
        b2       | 2        | z.csv | jobs       | 0    | 0        | 0        | 0          | 0       | 0
        """,
        checked_sources=SOURCES,
        checked_rejects="""
        batch_no | source_no | line | column_name | reason
        1        | 1         | 7    | mass_g      | below 0
        1        | 1         | 7    | trap        | is no trap
        1        | 1         | 8    | trap        | is no trap
        1        | 1         | 9    | trap        | is no trap
        2        | 1         | 7    | trap        | is no trap
        """,
        job_ledger="""
        batch_no | source_no | firm_id | job_id | status     | rows
        1        | 1         | n       | a      | accepted   | 3
        1        | 1         | s       | a      | accepted   | 2
        1        | 1         | n       | b      | rejected   | 1
        1        | 1         | s       | b      | rejected   | 1
        1        | 1         | n       | c      | duplicate  | 1
        1        | 1         | n       | w      | waiting    | 1
        1        | 1         | n       | c      | superseded | 2
        1        | 1         | s       | c      | superseded | 1
        1        | 2         | n       | a      | accepted   | 4
        2        | 1         | n       | a      | duplicate  | 1
        2        | 1         | s       | a      | duplicate  | 1
        2        | 1         | n       | v      | waiting    | 3
        2        | 1         | s       | v      | waiting    | 1
        2        | 1         | n       | b      | superseded | 1
        """,
    )


def _stg(rows: str) -> str:
    return "batch_no | source_no | firm_id | job_id | line | status" + rows


def test_the_states_of_each_job_are_counted_by_table_and_file() -> None:
    """Of every compared table four rows: two alike, one in another file, one of the other firm."""
    tables = ("jobs", "emitters", "pipe_runs", "catches", "readings", "callbacks")
    compared = {
        f"stg_{name}": _stg(f"""
        1 | {n} | n | a | 2 | accepted
        1 | {n} | n | a | 3 | accepted
        1 | {n} | n | a | 4 | duplicate
        1 | {n} | s | a | 5 | accepted
        1 | {n} | n | b | 6 | accepted
        2 | {n} | n | a | 2 | accepted
        1 | 9   | n | a | 2 | accepted""")
        for n, name in enumerate(tables, start=1)
    }
    counted = "".join(
        f"""
        1 | {n} | {name} | n | a | accepted  | 2
        1 | {n} | {name} | n | a | duplicate | 1
        1 | {n} | {name} | s | a | accepted  | 1
        1 | {n} | {name} | n | b | accepted  | 1
        2 | {n} | {name} | n | a | accepted  | 1
        1 | 9   | {name} | n | a | accepted  | 1"""
        for n, name in enumerate(tables, start=1)
    )
    head = "batch_no | source_no | table_name | firm_id | job_id | status | rows"
    check(
        "core/job_ledger",
        f"{head}\n 1 | 7 | jobs | n | c | accepted | 1 \n 1 | 8 | catches | n | c | waiting | 5 {counted}",
        stg_job_spans=f"{head}\n 1 | 7 | jobs | n | c | accepted | 1 \n 1 | 1 | jobs | n | a | compared | 2",
        stg_spans=f"{head}\n 1 | 8 | catches | n | c | waiting | 5 \n 1 | 4 | catches | n | a | compared | 3",
        **compared,
    )


def test_what_a_job_rejects_is_named_with_its_reason() -> None:
    head = "batch_no | source_no | line | firm_id | job_id | column_name | value | reason | status"
    rows = {
        name: f"{head}\n 1 | {n} | 2 | n | a | c{n} | v{n} | r{n} | rejected\n"
        for n, name in enumerate(("catches", "readings", "callbacks"))
    }
    kept = "1 | 5 | 3 | s | a | c | v | - | accepted\n 1 | 5 | 4 | s | a | c | v | - | superseded"
    check(
        "core/visit_rejects",
        """
        batch_no | source_no | line | firm_id | job_id | column_name | value | reason
        1        | 0         | 2    | n       | a      | c0          | v0    | r0
        1        | 1         | 2    | n       | a      | c1          | v1    | r1
        1        | 2         | 2    | n       | a      | c2          | v2    | r2
        """,
        **{f"stg_{name}": text + kept for name, text in rows.items()},
    )


def test_rejects_stand_in_the_order_of_batch_file_and_line_with_every_fault() -> None:
    """b9 came before b1; lines 7 of two files and two batches are four rows."""
    check(
        "core/rejects",
        """
        batch_id | file  | table_name | line | column_name | value | reason
        b9       | x.csv | catches    | 7    | mass_g      | -1    | below 0
        b9       | x.csv | catches    | 7    | mass_g      | -1    | odd
        b9       | x.csv | catches    | 7    | trap        | pot   | is no trap
        b9       | x.csv | catches    | 10   | mass_g      | -3    | below 0
        b9       | x.csv | jobs       | 2    | mass_g      | -5    | below 0
        b9       | y.csv | catches    | 7    | caught_at   | 03    | before visit_date
        b1       | x.csv | catches    | 7    | caught_at   | 02    | before visit_date
        """,
        ordered=True,
        checked_sources="""
        batch_no | source_no | batch_id | file  | table_name
        2        | 1         | b1       | x.csv | catches
        1        | 3         | b9       | x.csv | jobs
        1        | 2         | b9       | y.csv | catches
        1        | 1         | b9       | x.csv | catches
        """,
        checked_rejects="""
        batch_no | source_no | line | column_name | value | reason
        1        | 3         | 2    | mass_g      | -5    | below 0
        1        | 1         | 10   | mass_g      | -3    | below 0
        1        | 1         | 7    | trap        | pot   | is no trap
        1        | 1         | 7    | mass_g      | -1    | odd
        1        | 1         | 7    | mass_g      | -1    | below 0
        """,
        visit_rejects="""
        batch_no | source_no | line | column_name | value | reason
        2        | 1         | 7    | caught_at   | 02    | before visit_date
        1        | 2         | 7    | caught_at   | 03    | before visit_date
        """,
    )


WARNED = """
batch_no | source_no | firm_id | job_id | line | column_name | value | reason
1        | 1         | n       | a      | 2    | survey_ph   | 5     | low
1        | 1         | n       | a      | 2    | final_ph    | 12    | high
1        | 1         | s       | a      | 2    | survey_ph   | 4     | low
1        | 2         | n       | a      | 2    | survey_ph   | 3     | low
2        | 1         | n       | a      | 2    | survey_ph   | 2     | low
1        | 1         | n       | b      | 2    | survey_ph   | 1     | low
1        | 2         | s       | c      | 9    | survey_ph   | 6     | low
2        | 2         | s       | c      | 9    | survey_ph   | 7     | low
1        | 2         | s       | c      | 8    | survey_ph   | 8     | low
1        | 1         | s       | c      | 9    | survey_ph   | 9     | low
"""


def test_a_warning_is_told_of_the_rows_that_count_and_of_no_other_on_the_same_line() -> None:
    """n a counts as a whole from file 1 of batch 1, s a from none; of n c the row of file 2, line 9."""
    check(
        "core/row_warnings",
        """
        batch_id | file  | table_name | line | column_name | value | reason | firm_id | job_id
        b1       | x.csv | catches    | 2    | survey_ph   | 5     | low    | n       | a
        b1       | x.csv | catches    | 2    | final_ph    | 12    | high   | n       | a
        b1       | y.csv | catches    | 9    | survey_ph   | 6     | low    | s       | c
        """,
        checked_sources=SOURCES,
        checked_warnings=WARNED,
        stg_job_spans="batch_no | source_no | firm_id | job_id | status \n 1 | 1 | s | a | compared",
        stg_spans="""
        batch_no | source_no | firm_id | job_id | status
        1        | 1         | n       | a      | accepted
        1        | 1         | n       | b      | waiting
        """,
        stg_catches="batch_no | source_no | line | status \n 1 | 2 | 9 | accepted \n 1 | 2 | 8 | superseded",
    )


def test_a_warning_is_told_whichever_table_its_row_was_compared_in() -> None:
    tables = ("jobs", "emitters", "pipe_runs", "catches", "readings", "callbacks")
    head = "batch_no | source_no | line | status\n"
    check(
        "core/row_warnings",
        "line | value \n" + "\n".join(f"{n} | v{n}" for n in range(7)),
        checked_sources=SOURCES,
        checked_warnings="batch_no | source_no | firm_id | job_id | line | value\n"
        + "\n".join(f"1 | 1 | n | {'a' if n else 'b'} | {n} | v{n}" for n in range(7))
        + "\n"
        + "\n".join(f"1 | 1 | n | a | {n + 10} | v{n}" for n in range(1, 7)),
        stg_job_spans="batch_no | source_no | firm_id | job_id | status \n 1 | 1 | n | b | accepted",
        **{
            f"stg_{t}": f"{head} 1 | 1 | {n} | accepted \n 1 | 1 | {n + 10} | superseded"
            for n, t in enumerate(tables, start=1)
        },
    )


def test_warnings_on_jobs_come_from_every_table_and_from_catches_without_emitters() -> None:
    head = "firm_id | job_id | row_key | column_name | value | reason\n"
    check(
        "core/job_warnings",
        """
        firm_id | job_id | table_name | row_key | column_name | value | reason
        n       | a      | catches    | 1       | mass_g      | 5     | odd
        n       | a      | readings   | 04T10   | read_at     | 04T10 | late
        n       | a      | jobs       | a       | ''          | -     | nights
        n       | b      | jobs       | b       | ''          | -     | has catches but no emitters
        s       | a      | jobs       | a       | ''          | -     | has catches but no emitters
        """.replace("''", ""),
        stg_catch_warnings=head + "n | a | 1 | mass_g | 5 | odd",
        stg_reading_warnings=head + "n | a | 04T10 | read_at | 04T10 | late",
        stg_day_warnings=head + "n | a | a |  | - | nights",
        catches="firm_id | job_id | catch_no \n n | a | 1 \n n | b | 1 \n n | b | 2 \n s | a | 1 \n s | b | 1",
        emitters="firm_id | job_id | emitter_no \n n | a | 1 \n s | b | 1",
    )
