"""Staging of whole jobs: what came once and in order counts or waits together; from when to when a visit lasts."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check


def test_a_job_that_came_once_and_tidy_counts_and_any_other_is_compared() -> None:
    check(
        "staging/stg_job_spans",
        """
        batch_no | source_no | table_name | firm_id | job_id | rows | status
        1        | 1         | jobs       | n       | a      | 1    | accepted
        1        | 1         | jobs       | s       | a      | 1    | compared
        2        | 1         | jobs       | s       | a      | 1    | compared
        1        | 1         | jobs       | n       | b      | 2    | compared
        1        | 1         | jobs       | s       | b      | 1    | accepted
        """,
        checked_spans="""
        batch_no | source_no | table_name | firm_id | job_id | rows | is_tidy
        1        | 1         | jobs       | n       | a      | 1    | true
        1        | 2         | catches    | n       | a      | 7    | true
        1        | 1         | jobs       | s       | a      | 1    | true
        2        | 1         | jobs       | s       | a      | 1    | true
        1        | 1         | jobs       | n       | b      | 2    | false
        1        | 1         | jobs       | s       | b      | 1    | true
        """,
    )


def test_rows_of_a_job_count_wait_or_are_compared_together() -> None:
    """n a and s a: one came once, one in two files; n b reaches over each end of its visit; n w has no job."""
    check(
        "staging/stg_spans",
        """
        batch_no | source_no | table_name | firm_id | job_id | rows | status
        1        | 2         | catches    | n       | a      | 1    | accepted
        1        | 3         | readings   | n       | a      | 2    | accepted
        1        | 2         | catches    | s       | a      | 3    | compared
        2        | 1         | catches    | s       | a      | 4    | compared
        1        | 5         | emitters   | s       | a      | 5    | accepted
        1        | 2         | catches    | n       | b      | 6    | compared
        1        | 3         | readings   | n       | b      | 7    | compared
        1        | 4         | callbacks  | n       | b      | 8    | accepted
        1        | 6         | pipe_runs  | n       | b      | 9    | compared
        1        | 2         | catches    | n       | w      | 10   | waiting
        2        | 2         | callbacks  | s       | b      | 11   | compared
        """,
        stg_visits="""
        firm_id | job_id | opens_at | closes_at
        n       | a      | 04 00:00 | 05 00:00
        s       | a      | 04 00:00 | 05 00:00
        n       | b      | 06 00:00 | 07 00:00
        s       | b      | 06 00:00 | 07 00:00
        s       | w      | 04 00:00 | 05 00:00
        """,
        checked_spans="""
        batch_no | source_no | table_name | firm_id | job_id | rows | first_at    | last_at     | is_tidy
        1        | 1         | jobs       | n       | a      | 1    | -           | -           | true
        1        | 2         | catches    | n       | a      | 1    | 04 00:00    | 05 00:00    | true
        1        | 3         | readings   | n       | a      | 2    | 04 10:00    | 04 12:00    | true
        1        | 2         | catches    | s       | a      | 3    | 04 10:00    | 04 12:00    | true
        2        | 1         | catches    | s       | a      | 4    | 04 10:00    | 04 12:00    | true
        1        | 5         | emitters   | s       | a      | 5    | -           | -           | true
        1        | 2         | catches    | n       | b      | 6    | 06 10:00    | 07 00:00:01 | true
        1        | 3         | readings   | n       | b      | 7    | 05 23:59:59 | 06 12:00    | true
        1        | 4         | callbacks  | n       | b      | 8    | 06 00:00    | 09 00:00    | true
        1        | 6         | pipe_runs  | n       | b      | 9    | -           | -           | false
        1        | 2         | catches    | n       | w      | 10   | 04 10:00    | 04 12:00    | true
        2        | 2         | callbacks  | s       | b      | 11   | 05 00:00    | 09 00:00    | true
        """,
    )


def test_a_visit_lasts_to_midnight_after_its_last_day_or_an_hour_after_the_flow() -> None:
    check(
        "staging/stg_visits",
        """
        firm_id | job_id | opens_at | closes_at
        n       | a      | 04 00:00 | 05 00:00
        s       | a      | 04 00:00 | 06 00:00
        n       | b      | 04 00:00 | 05 00:30
        s       | b      | 04 00:00 | 05 01:00
        n       | c      | 04 00:00 | 05 00:00
        s       | c      | 04 00:00 | 06 00:00
        """,
        # ends 15:00; left on the day after; ends 23:30; ends with midnight; left with midnight; left after it
        jobs="""
        firm_id | job_id | visit_date | flush_started_at | flush_ended_at | left_at
        n       | a      | 04         | 04 09:00         | 04 15:00       | -
        s       | a      | 04         | 04 09:00         | 04 15:00       | 05 10:00
        n       | b      | 04         | 04 09:00         | 04 23:30       | 04 23:45
        s       | b      | 04         | 04 09:00         | 05 00:00       | -
        n       | c      | 04         | 04 09:00         | 04 15:00       | 05 00:00
        s       | c      | 04         | 04 09:00         | 04 23:00       | 05 00:00:01
        """,
    )
