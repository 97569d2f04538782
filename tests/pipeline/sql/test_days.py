"""Days on site and minutes of a flush: nights, midnights, days of one moment, minutes that nobody can know."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check


def test_a_gap_over_midnight_of_six_hours_is_a_night_and_a_shorter_one_is_work() -> None:
    """n a: 20:30 to 02:30; s a: 20:31 to 02:30, work; n b: 8 h by day, work; s b: midnight itself is the day before."""
    check(
        "core/logged_days",
        """
        firm_id | job_id | site_day | first_on | last_on | first_at | last_at  | flow_first_at | flow_last_at | is_single
        n       | a      | 1        | 04       | 04      | 04 08:00 | 04 20:30 | 04 09:00      | 04 20:30     | false
        n       | a      | 2        | 05       | 05      | 05 02:30 | 05 11:00 | 05 02:30      | 05 10:00     | false
        s       | a      | 1        | 04       | 05      | 04 09:00 | 05 10:00 | 04 09:00      | 05 10:00     | false
        n       | b      | 1        | 09       | 09      | 09 08:00 | 09 18:00 | 09 09:00      | 09 17:00     | false
        s       | b      | 1        | 04       | 04      | 04 14:00 | 05 00:00 | 04 15:00      | 05 00:00     | false
        """,
        jobs="""
        firm_id | job_id | flush_started_at | flush_ended_at | arrived_at | left_at
        n       | a      | 04 09:00         | 05 10:00       | 04 08:00   | 05 11:00
        s       | a      | 04 09:00         | 05 10:00       | -          | -
        n       | b      | 09 09:00         | 09 17:00       | 09 08:00   | 09 18:00
        s       | b      | 04 15:00         | 05 00:00       | 04 14:00   | 05 00:00
        """,
        catches="firm_id | job_id | caught_at \n n | a | 04 20:30 \n s | a | 04 20:31 \n n | b | 09 19:00 \n s | b | 04 13:59",
        readings="firm_id | job_id | read_at \n n | a | 05 02:30 \n s | a | 05 02:30 \n n | b | 09 07:00 \n s | b | 05 00:01",
    )


def test_a_day_is_single_where_one_moment_of_the_flow_or_else_of_the_day_is_known() -> None:
    """Set up on the 4th, flow on 5 and 6, cleared away on the 7th: days 1 and 4 have no flow; day 3 one moment of it and another of the day.

    n b and s b run past midnight: two days of one moment each are one day of two.
    """
    check(
        "core/logged_days",
        """
        firm_id | job_id | site_day | first_on | last_on | first_at | last_at  | flow_first_at | flow_last_at | is_single
        n       | a      | 1        | 04       | 04      | 04 14:00 | 04 15:00 | -             | -            | false
        n       | a      | 2        | 05       | 05      | 05 09:00 | 05 16:00 | 05 09:00      | 05 16:00     | false
        n       | a      | 3        | 06       | 06      | 06 12:00 | 06 13:00 | 06 12:00      | 06 12:00     | true
        n       | a      | 4        | 07       | 07      | 07 10:00 | 07 10:00 | -             | -            | true
        n       | b      | 1        | 08       | 09      | 08 22:00 | 09 02:00 | 08 22:00      | 09 02:00     | false
        s       | b      | 1        | 04       | 05      | 04 23:00 | 05 01:00 | -             | -            | false
        s       | b      | 2        | 06       | 06      | 06 09:00 | 06 12:00 | 06 09:00      | 06 12:00     | false
        s       | a      | 1        | 04       | 04      | 04 09:00 | 04 09:00 | 04 09:00      | 04 09:00     | true
        s       | a      | 2        | 06       | 06      | 06 12:00 | 06 12:00 | 06 12:00      | 06 12:00     | true
        """,
        jobs="""
        firm_id | job_id | flush_started_at | flush_ended_at | arrived_at | left_at
        n       | a      | 05 09:00         | 06 12:00       | 04 14:00   | 07 10:00
        s       | a      | 04 09:00         | 06 12:00       | -          | -
        n       | b      | 08 22:00         | 09 02:00       | -          | -
        s       | b      | 06 09:00         | 06 12:00       | 04 23:00   | -
        """,
        catches="firm_id | job_id | caught_at \n n | a | 05 16:00 \n n | a | 04 15:00 \n n | a | 06 13:00 \n s | b | 05 01:00 \n s | a | 03 10:00 \n s | a | 07 10:00",
        readings="firm_id | job_id | read_at \n x | b | 04 10:00",
    )


JOBS = "firm_id | job_id | flush_started_at \n n | a | 04 09:00 \n s | a | 05 10:00 \n n | b | 04 09:00 \n s | b | 04 22:00"
LOGGED = (
    "firm_id | job_id | site_day | first_on | last_on | first_at | last_at | flow_first_at | flow_last_at | is_single"
)
DAYS = "firm_id | job_id | site_day | flow_first_at | flow_last_at | flow_seconds | site_seconds"


def test_a_first_day_of_one_moment_ends_at_half_past_four_and_a_later_one_begins_at_eight() -> None:
    """n a: 09:00 to 16:30 and 08:00 to 12:00; s a: set up 14:00 to 16:30, then 10:00 to 15:00, cleared 08:00 to 09:00."""
    check(
        "core/site_days",
        f"""
        {DAYS}
        n | a | 1 | 04 09:00 | 04 16:30 | 27000 | 30600
        n | a | 2 | 05 08:00 | 05 12:00 | 14400 | 18000
        s | a | 1 | -        | -        | -     | 9000
        s | a | 2 | 05 10:00 | 05 15:00 | 18000 | 18000
        s | a | 3 | -        | -        | -     | 3600
        """,
        jobs=JOBS,
        logged_days=f"""
        {LOGGED}
        n | a | 2 | 05 | 05 | 05 12:00 | 05 13:00 | 05 12:00 | 05 12:00 | true
        n | a | 1 | 04 | 04 | 04 08:00 | 04 09:00 | 04 09:00 | 04 09:00 | true
        s | a | 3 | 06 | 06 | 06 09:00 | 06 09:00 | -        | -        | true
        s | a | 1 | 04 | 04 | 04 14:00 | 04 14:00 | -        | -        | true
        s | a | 2 | 05 | 05 | 05 10:00 | 05 15:00 | 05 10:00 | 05 15:00 | false
        """,
    )


def test_a_moment_on_the_wrong_side_of_working_hours_leaves_the_day_unknown() -> None:
    """n b: 16:30 leaves nothing to 16:30, 08:00 nothing from 08:00; s b: 22:00 and 07:30 are beyond both."""
    check(
        "core/site_days",
        f"""
        {DAYS}
        n | b | 1 | 04 16:30 | 04 16:30 | - | -
        n | b | 2 | 05 08:00 | 05 08:00 | - | -
        n | b | 3 | 06 08:00 | 06 08:01 | 60 | 60
        s | b | 1 | 04 22:00 | 04 22:00 | - | -
        s | b | 2 | 05 07:30 | 05 07:30 | - | -
        s | a | 1 | 04 16:29 | 04 16:30 | 60 | 60
        """,
        jobs=JOBS.replace("n | b | 04 09:00", "n | b | 04 16:30"),
        logged_days=f"""
        {LOGGED}
        n | b | 1 | 04 | 04 | 04 16:30 | 04 16:30 | 04 16:30 | 04 16:30 | true
        n | b | 2 | 05 | 05 | 05 08:00 | 05 08:00 | 05 08:00 | 05 08:00 | true
        n | b | 3 | 06 | 06 | 06 08:01 | 06 08:01 | 06 08:01 | 06 08:01 | true
        s | b | 1 | 04 | 04 | 04 22:00 | 04 22:00 | 04 22:00 | 04 22:00 | true
        s | b | 2 | 05 | 05 | 05 07:30 | 05 07:30 | 05 07:30 | 05 07:30 | true
        s | a | 1 | 04 | 04 | 04 16:29 | 04 16:29 | 04 16:29 | 04 16:29 | true
        """,
    )


def test_a_whole_day_without_a_word_beside_a_day_of_one_moment_leaves_its_minutes_unknown() -> None:
    """n a: after the gap one moment; s a: before it; n b: two on both sides; s b: no flow before, so its flush is known."""
    check(
        "core/site_days",
        f"""
        {DAYS}
        n | a | 1 | 04 09:00 | 04 15:00 | 21600 | 21600
        n | a | 2 | 06 08:00 | 06 12:00 | -     | -
        s | a | 1 | 05 10:00 | 05 16:30 | 23400 | 23400
        s | a | 2 | 07 09:00 | 07 12:00 | -     | -
        s | a | 3 | 08 09:00 | 08 12:00 | 10800 | 10800
        n | b | 1 | 04 09:00 | 04 15:00 | 21600 | 21600
        n | b | 2 | 07 09:00 | 07 12:00 | 10800 | 10800
        s | b | 1 | -        | -        | -     | 3600
        s | b | 2 | 04 22:00 | 04 23:00 | 3600  | -
        """,
        jobs=JOBS,
        logged_days=f"""
        {LOGGED}
        n | a | 1 | 04 | 04 | 04 09:00 | 04 15:00 | 04 09:00 | 04 15:00 | false
        n | a | 2 | 06 | 06 | 06 12:00 | 06 12:00 | 06 12:00 | 06 12:00 | true
        s | a | 1 | 05 | 05 | 05 10:00 | 05 10:00 | 05 10:00 | 05 10:00 | true
        s | a | 2 | 07 | 07 | 07 09:00 | 07 12:00 | 07 09:00 | 07 12:00 | false
        s | a | 3 | 08 | 08 | 08 09:00 | 08 12:00 | 08 09:00 | 08 12:00 | false
        n | b | 1 | 04 | 04 | 04 09:00 | 04 15:00 | 04 09:00 | 04 15:00 | false
        n | b | 2 | 07 | 07 | 07 09:00 | 07 12:00 | 07 09:00 | 07 12:00 | false
        s | b | 1 | 01 | 01 | 01 15:30 | 01 15:30 | -        | -        | true
        s | b | 2 | 04 | 04 | 04 22:00 | 04 23:00 | 04 22:00 | 04 23:00 | false
        """,
    )


def test_a_day_that_runs_past_midnight_leaves_no_whole_day_open_beside_the_next() -> None:
    """n a: 4th to 5th, then one moment on the 6th; s a: one moment on the 5th, then 6th to 7th. Neither is lost."""
    check(
        "core/site_days",
        f"""
        {DAYS}
        n | a | 1 | 04 20:00 | 05 02:00 | 21600 | 21600
        n | a | 2 | 06 08:00 | 06 12:00 | 14400 | 14400
        s | a | 1 | 05 10:00 | 05 16:30 | 23400 | 23400
        s | a | 2 | 06 20:00 | 07 02:00 | 21600 | 21600
        """,
        jobs=JOBS,
        logged_days=f"""
        {LOGGED}
        n | a | 1 | 04 | 05 | 04 20:00 | 05 02:00 | 04 20:00 | 05 02:00 | false
        n | a | 2 | 06 | 06 | 06 12:00 | 06 12:00 | 06 12:00 | 06 12:00 | true
        s | a | 1 | 05 | 05 | 05 10:00 | 05 10:00 | 05 10:00 | 05 10:00 | true
        s | a | 2 | 06 | 07 | 06 20:00 | 07 02:00 | 06 20:00 | 07 02:00 | false
        """,
    )


def test_the_flush_clock_leaves_nights_out_and_stops_where_minutes_are_unknown() -> None:
    check(
        "features/ftr_job_day",
        """
        firm_id | job_id | day_no | first_at | last_at  | minutes_before | minutes
        n       | a      | 1      | 04 09:00 | 04 15:00 | 0              | 360
        n       | a      | 2      | 05 09:00 | 05 12:00 | 360            | 180
        n       | a      | 3      | 06 09:00 | 06 10:00 | 540            | 60.5
        n       | b      | 1      | 04 09:00 | 04 15:00 | 0              | 1
        s       | a      | 1      | 04 09:00 | 04 15:00 | 0              | 10
        s       | a      | 2      | 05 09:00 | 05 12:00 | 10             | -
        s       | a      | 3      | 06 09:00 | 06 10:00 | -              | 5
        """,
        ordered=True,
        site_days="""
        firm_id | job_id | site_day | flow_first_at | flow_last_at | flow_seconds | site_seconds
        s       | a      | 3        | 06 09:00      | 06 10:00     | 300          | 1
        s       | a      | 1        | 04 09:00      | 04 15:00     | 600          | 2
        s       | a      | 2        | 05 09:00      | 05 12:00     | -            | 3
        n       | b      | 1        | 04 09:00      | 04 15:00     | 60           | 4
        n       | a      | 4        | 06 09:00      | 06 10:00     | 3630         | 5
        n       | a      | 2        | 04 09:00      | 04 15:00     | 21600        | 6
        n       | a      | 3        | 05 09:00      | 05 12:00     | 10800        | 7
        n       | a      | 1        | -             | -            | -            | 8
        """,
    )
