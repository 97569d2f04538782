"""Queries that only read: which rows, whose, and in which order."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check, rows_of


def test_debris_curves_are_the_magnet_weighings_whose_minute_is_known() -> None:
    curves = """
    firm_id | job_id | trap     | minutes_since_start | cumulative_magnetite_kg
    n       | a      | magnet   | 30                  | 0.1
    n       | a      | magnet   | 60                  | 0.2
    n       | a      | strainer | 70                  | 0.2
    n       | a      | magnet   | -                   | 0.3
    s       | a      | magnet   | 40                  | 0.4
    n       | b      | magnet   | 50                  | 0.5
    """
    columns = ("job_mark", "minutes_since_start", "cumulative_magnetite_kg")
    found = rows_of("reads/debris_curves", columns, ftr_catch_curve=curves)
    jobs = "firm_id | job_id \n s | a \n n | b \n n | a"
    marks = [row[0] for row in rows_of("reads/job_marks", ("job_mark",), jobs=jobs)]
    wanted = {(marks[0], "30", "0.1"), (marks[0], "60", "0.2"), (marks[1], "50", "0.5"), (marks[2], "40", "0.4")}
    assert len(set(marks)) == 3
    assert len(found) == 4
    assert set(found) == wanted


def test_holdings_are_counted_over_the_whole_book() -> None:
    check(
        "reads/holdings",
        """
        jobs | simulated_jobs | catches | first_visit | last_visit
        3    | 1              | 4       | 02          | 06
        """,
        jobs="firm_id | job_id | visit_date | is_simulated \n n | a | 04 | false \n sim-1 | a | 02 | true \n n | b | 06 | false",
        catches="firm_id | job_id | catch_no \n n | a | 1 \n n | a | 2 \n n | b | 1 \n sim-1 | a | 1",
    )


def test_jobs_held_are_counted_over_every_firm_and_the_simulators_apart() -> None:
    check(
        "reads/jobs_held",
        "jobs | simulated_jobs \n 3 | 1",
        jobs="firm_id | job_id | is_simulated \n n | a | false \n sim-1 | a | true \n s | a | false",
    )


def test_the_list_of_jobs_is_newest_first_and_silent_on_callbacks_of_a_firm_that_hands_in_none() -> None:
    """Places count by key: n a, n b, s a, s b; two jobs of one day stand by their numbers."""
    check(
        "reads/job_list",
        """
        job_place | firm_id | job_id | visit_date | emitter_count | magnet_catches | followed_days | has_debris_callback_365 | is_censored_365
        3         | s       | b      | 05         | -             | -              | -             | -                       | -
        0         | n       | a      | 04         | 1             | 11             | 21            | true                    | false
        2         | s       | a      | 03         | 3             | 13             | -             | -                       | -
        1         | n       | b      | 03         | 2             | 12             | 22            | -                       | true
        """,
        ordered=True,
        jobs="firm_id | job_id | visit_date \n s | a | 03 \n n | b | 03 \n s | b | 05 \n n | a | 04",
        ftr_volume="firm_id | job_id | emitter_count \n n | a | 1 \n n | b | 2 \n s | a | 3",
        ftr_outcome="firm_id | job_id | magnet_catches \n n | a | 11 \n n | b | 12 \n s | a | 13",
        ftr_callback="""
        firm_id | job_id | followed_days | has_debris_callback_365 | is_censored_365
        n       | a      | 21            | true                    | false
        n       | b      | 22            | -                       | true
        s       | a      | 23            | false                   | false
        """,
        callbacks="firm_id | job_id \n n | a \n n | a \n x | a",
    )


def test_rows_replaced_by_a_batch_are_those_of_the_batches_before_it() -> None:
    check(
        "reads/replaced_rows",
        """
        batch_id | file  | table_name | superseded
        b9       | a.csv | catches    | 1
        b9       | a.csv | jobs       | 2
        b9       | b.csv | catches    | 3
        b2       | a.csv | catches    | 4
        """,
        ordered=True,
        parameters={"batch_no": 3},
        ledger="""
        batch_no | batch_id | file  | table_name | superseded
        3        | b3       | a.csv | catches    | 9
        2        | b2       | a.csv | catches    | 4
        1        | b9       | b.csv | catches    | 3
        1        | b9       | a.csv | jobs       | 2
        1        | b9       | a.csv | catches    | 1
        1        | b9       | c.csv | catches    | 0
        """,
    )


def test_rows_outside_their_visits_are_those_of_the_batches_before() -> None:
    check(
        "reads/rows_outside_visits",
        """
        batch_no | source_no | line | firm_id | job_id
        1        | 1         | 8    | n       | a
        1        | 1         | 9    | s       | a
        1        | 2         | 7    | n       | a
        2        | 1         | 2    | n       | a
        """,
        ordered=True,
        parameters={"batch_no": 3},
        visit_rejects="""
        batch_no | source_no | line | firm_id | job_id
        3        | 1         | 2    | n       | a
        2        | 1         | 2    | n       | a
        1        | 2         | 7    | n       | a
        1        | 1         | 9    | s       | a
        1        | 1         | 8    | n       | a
        """,
    )


JOBS = """
firm_id | job_id | visit_date | flush_started_at | flush_ended_at | left_at
s       | b      | 04         | 04 09:00         | 05 12:00       | -
s       | a      | 04         | 04 09:00         | 05 12:00       | 06 08:00
n       | b      | 04         | 04 09:00         | 05 12:00       | 05 13:00
n       | a      | 04         | 04 09:00         | 04 12:00       | -
"""


def test_the_visits_of_a_batch_are_those_whose_counting_version_it_brought() -> None:
    check(
        "reads/visits_of_batch",
        """
        firm_id | job_id | visit_date | last_day
        n       | a      | 04         | 04
        n       | b      | 04         | 05
        s       | a      | 04         | 06
        """,
        ordered=True,
        parameters={"batch_no": 2},
        jobs=JOBS,
        job_ledger="""
        batch_no | source_no | table_name | firm_id | job_id | status
        2        | 1         | jobs       | s       | a      | accepted
        2        | 1         | jobs       | n       | b      | accepted
        2        | 1         | jobs       | n       | a      | accepted
        2        | 1         | catches    | s       | b      | accepted
        2        | 1         | jobs       | s       | b      | superseded
        1        | 1         | jobs       | s       | b      | accepted
        3        | 1         | jobs       | s       | b      | accepted
        """,
    )


def test_the_visits_of_named_jobs_are_theirs_alone() -> None:
    check(
        "reads/visits_of_jobs",
        """
        firm_id | job_id | visit_date | last_day
        n       | a      | 04         | 04
        s       | a      | 04         | 06
        s       | b      | 04         | 05
        """,
        ordered=True,
        parameters={"firms": ["s", "s", "n"], "jobs": ["b", "a", "a"]},
        jobs=JOBS,
    )
