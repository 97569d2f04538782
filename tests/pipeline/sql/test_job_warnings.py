"""Rows that count but do not agree with the rest of their job: at each edge one that is told and one that is not."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check

JOBS = """
firm_id | job_id | flush_started_at | flush_ended_at | machine_max_flow_l_min
n       | a      | 04 09:00         | 04 15:00       | 40
s       | a      | 04 10:00         | 04 16:00       | 20
n       | b      | 04 10:00         | 04 16:00       | -
"""
EMITTERS = """
firm_id | job_id | emitter_no
n       | a      | 1
n       | a      | 2
s       | a      | 1
n       | c      | 3
"""


def test_a_weighing_outside_the_flush_or_out_of_its_order_is_told() -> None:
    check(
        "staging/stg_catch_warnings",
        """
        firm_id | job_id | row_key | column_name | value               | reason
        n       | a      | 1       | caught_at   | 2025-03-04T08:59:59 | before flush_started_at
        n       | a      | 5       | caught_at   | 2025-03-04T16:01    | more than 60 minutes after flush_ended_at
        n       | a      | 3       | caught_at   | 2025-03-04T09:30    | before the weighing with the number before it
        s       | a      | 1       | caught_at   | 2025-03-04T09:00    | before flush_started_at
        """,
        jobs=JOBS,
        catches="""
        firm_id | job_id | catch_no | caught_at   | trap
        n       | a      | 5        | 04 16:01    | magnet
        n       | a      | 4        | 04 16:00    | magnet
        n       | a      | 3        | 04 09:30    | magnet
        n       | a      | 2        | 04 10:00    | magnet
        n       | a      | 1        | 04 08:59:59 | magnet
        s       | a      | 2        | 04 10:00    | magnet
        s       | a      | 3        | 04 10:00    | magnet
        s       | a      | 1        | 04 09:00    | magnet
        n       | b      | 2        | 04 10:00    | magnet
        n       | b      | 3        | 04 17:00    | magnet
        """,
    )


def test_a_weighing_with_the_flow_on_an_emitter_that_is_not_there_is_told() -> None:
    """n a has 1 and 2, s a has 1, n b has none on record, so nothing can be said of it."""
    check(
        "staging/stg_catch_warnings",
        """
        firm_id | job_id | row_key | column_name      | value | reason
        n       | a      | 3       | focus_emitter_no | 3     | not among the emitters of the job
        s       | a      | 2       | focus_emitter_no | 2     | not among the emitters of the job
        """,
        jobs=JOBS,
        emitters=EMITTERS,
        catches="""
        firm_id | job_id | catch_no | caught_at | trap   | focus_emitter_no
        n       | a      | 1        | 04 10:00  | magnet | 1
        n       | a      | 2        | 04 11:00  | magnet | 2
        n       | a      | 3        | 04 12:00  | magnet | 3
        n       | a      | 4        | 04 13:00  | magnet | -
        s       | a      | 1        | 04 11:00  | magnet | 1
        s       | a      | 2        | 04 12:00  | magnet | 2
        n       | b      | 1        | 04 12:00  | magnet | 2
        s       | c      | 1        | 04 12:00  | magnet | 2
        """,
    )


def test_a_dry_mass_that_its_wet_twin_does_not_bear_out_is_told() -> None:
    """Wet over dry: 1.3 and 2.7 are allowed, 260 / 201 and 540 / 199 are not; two wet ones of one trap add up."""
    heavier, undried = (
        "heavier than the wet mass of the same trap and time",
        "not a dry mass beside a wet one: the wet mass counts",
    )
    check(
        "staging/stg_catch_warnings",
        f"""
        firm_id | job_id | row_key | column_name | value | reason
        n       | a      | 12      | mass_g      | 201.0 | {heavier}
        n       | a      | 22      | mass_g      | 0.0   | {undried}
        n       | a      | 96      | mass_g      | 0.0   | {undried}
        n       | a      | 42      | mass_g      | 201.0 | wet / dry mass is 1.29, outside 1.3..2.7
        n       | a      | 62      | mass_g      | 199.0 | wet / dry mass is 2.71, outside 1.3..2.7
        s       | a      | 1       | mass_g      | 60.0  | wet / dry mass is 5.0, outside 1.3..2.7
        n       | a      | 93      | mass_g      | 95.0  | wet / dry mass is 1.05, outside 1.3..2.7
        """,
        jobs=JOBS,
        catches="""
        firm_id | job_id | catch_no | caught_at | trap     | weighed | mass_g
        n       | a      | 11       | 04 10:00  | magnet   | wet     | 200
        n       | a      | 12       | 04 10:00  | magnet   | dry     | 201
        n       | a      | 13       | 04 10:00  | strainer | dry     | 900
        n       | a      | 21       | 04 10:10  | magnet   | -       | 200
        n       | a      | 22       | 04 10:10  | magnet   | dry     | 0
        n       | a      | 31       | 04 10:20  | magnet   | wet     | 260
        n       | a      | 32       | 04 10:20  | magnet   | dry     | 200
        n       | a      | 41       | 04 10:30  | magnet   | wet     | 260
        n       | a      | 42       | 04 10:30  | magnet   | dry     | 201
        n       | a      | 51       | 04 10:40  | magnet   | wet     | 540
        n       | a      | 52       | 04 10:40  | magnet   | dry     | 200
        n       | a      | 61       | 04 10:50  | magnet   | wet     | 540
        n       | a      | 62       | 04 10:50  | magnet   | dry     | 199
        n       | a      | 71       | 04 11:00  | magnet   | wet     | 0
        n       | a      | 72       | 04 11:00  | magnet   | dry     | 0
        n       | a      | 81       | 04 11:10  | magnet   | wet     | 10
        n       | a      | 82       | 04 11:10  | magnet   | wet     | 99
        n       | a      | 83       | 04 11:20  | magnet   | dry     | 10
        n       | a      | 84       | 04 11:20  | magnet   | dry     | 99
        n       | a      | 91       | 04 11:30  | magnet   | wet     | 100
        n       | a      | 92       | 04 11:30  | magnet   | dry     | 45
        n       | a      | 93       | 04 11:30  | magnet   | dry     | 50
        s       | a      | 3        | 04 11:30  | magnet   | wet     | 100
        s       | a      | 2        | 04 11:30  | magnet   | -       | 200
        s       | a      | 1        | 04 11:30  | magnet   | dry     | 60
        n       | a      | 95       | 04 11:50  | magnet   | wet     | 0.5
        n       | a      | 96       | 04 11:50  | magnet   | dry     | 0
        n       | b      | 1        | 04 11:30  | magnet   | wet     | 100
        """,
    )


def test_readings_are_counted_by_hour_and_emitter_with_those_that_look_wrong() -> None:
    """Early: before 08:00 (n a) or 09:00 (s a); late: after 16:00; fast: above 42 or 21 L/min."""
    check(
        "staging/stg_reading_hours",
        """
        firm_id | job_id | hour_at  | focus_emitter_no | readings | first_at | last_at | early | early_at | late | late_at | fast | fast_at | highest_flow_l_min | machine_max_flow_l_min
        n | a | 04 07:00 | - | 2 | 04 07:30 | 04 07:59 | 2 | 04 07:30 | 0 | -           | 0 | -        | -  | 40
        n | a | 04 08:00 | - | 1 | 04 08:00 | 04 08:00 | 0 | -        | 0 | -           | 0 | -        | 42 | 40
        n | a | 04 10:00 | 1 | 3 | 04 10:00 | 04 10:59 | 0 | -        | 0 | -           | 2 | 04 10:00 | 44 | 40
        n | a | 04 10:00 | 2 | 1 | 04 10:40 | 04 10:40 | 0 | -        | 0 | -           | 0 | -        | 7  | 40
        n | a | 04 16:00 | - | 3 | 04 16:00 | 04 16:30 | 0 | -        | 2 | 04 16:00:01 | 0 | -        | -  | 40
        s | a | 04 08:00 | - | 1 | 04 08:00 | 04 08:00 | 1 | 04 08:00 | 0 | -           | 1 | 04 08:00 | 42 | 20
        n | b | 04 10:00 | 1 | 1 | 04 10:00 | 04 10:00 | 0 | -        | 0 | -           | 0 | -        | 99 | -
        """,
        jobs=JOBS,
        readings="""
        firm_id | job_id | read_at     | focus_emitter_no | flow_l_min
        n       | a      | 04 07:59    | -                | -
        n       | a      | 04 07:30    | -                | -
        n       | a      | 04 08:00    | -                | 42
        n       | a      | 04 10:59    | 1                | 44
        n       | a      | 04 10:00    | 1                | 42.5
        n       | a      | 04 10:30    | 1                | 12
        n       | a      | 04 10:40    | 2                | 7
        n       | a      | 04 16:00    | -                | -
        n       | a      | 04 16:00:01 | -                | -
        n       | a      | 04 16:30    | -                | -
        s       | a      | 04 08:00    | -                | 42
        n       | b      | 04 10:00    | 1                | 99
        """,
    )


HOURS = "firm_id | job_id | hour_at | focus_emitter_no | readings | first_at | last_at | early | early_at | late | late_at | fast | fast_at | highest_flow_l_min | machine_max_flow_l_min"


def test_readings_that_look_wrong_are_told_once_a_job_at_the_first_of_them() -> None:
    check(
        "staging/stg_reading_warnings",
        """
        firm_id | job_id | row_key | column_name | value | reason
        n | a | 2025-03-04T07:30    | read_at    | 2025-03-04T07:30    | more than 60 minutes before flush_started_at (readings: 3)
        n | a | 2025-03-04T16:00:01 | read_at    | 2025-03-04T16:00:01 | more than 60 minutes after flush_ended_at (readings: 6)
        n | a | 2025-03-04T10:05    | flow_l_min | 44.0                | above the machine's maximum of 40.0 L/min (readings: 5, the highest is shown)
        n | a | 2025-03-04T16:00    | read_at    | 2025-03-04T16:00    | more than 3 hours after the reading before it on that day
        n | b | 2025-03-04T10:05    | flow_l_min | 43.0                | above the machine's maximum of 40.0 L/min (readings: 1, the highest is shown)
        s | a | 2025-03-04T07:31    | read_at    | 2025-03-04T07:31    | more than 60 minutes before flush_started_at (readings: 1)
        s | b | 2025-03-04T07:31    | read_at    | 2025-03-04T07:31    | more than 60 minutes after flush_ended_at (readings: 1)
        """,
        stg_reading_hours=f"""
        {HOURS}
        n | a | 04 07:00 | - | 2 | 04 07:30 | 04 07:59 | 2 | 04 07:30 | 0 | -           | 0 | -        | -  | 40
        n | a | 04 06:00 | - | 1 | 04 07:45 | 04 07:45 | 1 | 04 07:45 | 0 | -           | 0 | -        | -  | 39
        n | a | 04 10:00 | - | 2 | 04 10:05 | 04 10:06 | 0 | -        | 0 | -           | 2 | 04 10:05 | 43 | 40
        n | a | 04 11:00 | - | 3 | 04 11:05 | 04 11:06 | 0 | -        | 0 | -           | 3 | 04 11:05 | 44 | 40
        n | a | 04 16:00 | - | 2 | 04 16:00 | 04 16:30 | 0 | -        | 2 | 04 16:00:01 | 0 | -        | -  | 40
        n | a | 04 17:00 | - | 4 | 04 17:00 | 04 17:30 | 0 | -        | 4 | 04 17:00    | 0 | -        | -  | 40
        s | a | 04 07:00 | - | 1 | 04 07:31 | 04 07:31 | 1 | 04 07:31 | 0 | -           | 0 | -        | -  | 40
        n | b | 04 10:00 | - | 1 | 04 10:05 | 04 10:05 | 0 | -        | 0 | -           | 1 | 04 10:05 | 43 | 40
        s | b | 04 07:00 | - | 1 | 04 07:31 | 04 07:31 | 0 | -        | 1 | 04 07:31    | 0 | -        | -  | 40
        """,
    )


def test_a_clock_that_stands_still_for_hours_is_told_on_days_with_eight_readings() -> None:
    """n a: 3 h 00 is allowed, 3 h 00 min 1 s is not; over the night nothing is said.

    s a, n c and s b have seven readings on that day, though other firms, jobs and days have more.
    """
    check(
        "staging/stg_reading_warnings",
        """
        firm_id | job_id | row_key             | column_name | value               | reason
        n       | a      | 2025-03-04T15:30:01 | read_at     | 2025-03-04T15:30:01 | more than 3 hours after the reading before it on that day
        """,
        stg_reading_hours="""
        firm_id | job_id | hour_at  | focus_emitter_no | readings | first_at    | last_at
        n       | a      | 04 15:00 | -                | 1        | 04 15:30:01 | 04 15:30:01
        n       | a      | 04 12:00 | 1                | 1        | 04 12:10    | 04 12:20
        n       | a      | 04 12:00 | 2                | 2        | 04 12:00    | 04 12:30
        n       | a      | 04 09:00 | 1                | 2        | 04 08:50    | 04 08:55
        n       | a      | 04 09:00 | 2                | 2        | 04 08:52    | 04 09:00
        n       | a      | 05 09:00 | -                | 8        | 05 09:00    | 05 09:10
        s       | a      | 04 09:00 | -                | 4        | 04 09:00    | 04 09:10
        s       | a      | 04 13:00 | -                | 1        | 04 13:00    | 04 13:10
        s       | a      | 04 15:00 | -                | 2        | 04 17:00    | 04 17:10
        n       | c      | 04 09:00 | -                | 4        | 04 09:00    | 04 09:10
        n       | c      | 04 15:00 | -                | 3        | 04 15:00    | 04 15:10
        s       | b      | 04 09:00 | -                | 4        | 04 09:00    | 04 09:10
        s       | b      | 04 15:00 | -                | 3        | 04 15:00    | 04 15:10
        s       | b      | 05 09:00 | -                | 8        | 05 09:00    | 05 09:10
        n       | b      | 04 02:00 | -                | 8        | 04 02:00    | 04 02:10
        """,
    )


def test_readings_with_the_flow_on_an_emitter_that_is_not_there_are_told_once_an_emitter() -> None:
    check(
        "staging/stg_reading_warnings",
        """
        firm_id | job_id | row_key          | column_name      | value | reason
        n       | a      | 2025-03-04T09:20 | focus_emitter_no | 3     | not among the emitters of the job (readings: 6)
        n       | a      | 2025-03-04T09:20 | focus_emitter_no | 4     | not among the emitters of the job (readings: 1)
        s       | a      | 2025-03-04T09:40 | focus_emitter_no | 2     | not among the emitters of the job (readings: 1)
        """,
        emitters=EMITTERS,
        stg_reading_hours="""
        firm_id | job_id | hour_at  | focus_emitter_no | readings | first_at | last_at
        n       | a      | 04 10:00 | 3                | 2        | 04 10:20 | 04 10:30
        n       | a      | 04 09:00 | 3                | 4        | 04 09:20 | 04 09:30
        n       | a      | 04 09:00 | 4                | 1        | 04 09:20 | 04 09:30
        n       | a      | 04 09:00 | 2                | 2        | 04 09:20 | 04 09:30
        n       | a      | 04 09:00 | -                | 1        | 04 09:20 | 04 09:30
        s       | a      | 04 09:00 | 1                | 1        | 04 09:20 | 04 09:30
        s       | a      | 04 09:00 | 2                | 1        | 04 09:40 | 04 09:50
        n       | b      | 04 09:00 | 2                | 2        | 04 09:20 | 04 09:30
        s       | c      | 04 09:00 | 2                | 2        | 04 09:20 | 04 09:30
        """,
    )


def test_a_job_says_so_where_its_minutes_cannot_be_known() -> None:
    """n a lacks flush, s a time on site; n b never said when it came, s b when it went; n c and s c lack nothing."""
    flush = "does not say when the flush stopped for the night or began again; its flush minutes are left empty"
    site = "does not say when work stopped for the night or began again; its minutes on site are left empty"
    check(
        "staging/stg_day_warnings",
        f"""
        firm_id | job_id | row_key | column_name | value | reason
        n       | a      | a       |             | -     | {flush}
        s       | a      | a       |             | -     | {site}
        """,
        jobs="""
        firm_id | job_id | arrived_at | left_at
        n       | a      | -          | -
        s       | a      | 04 08:00   | 05 12:00
        n       | b      | -          | 05 12:00
        s       | b      | 04 08:00   | -
        n       | c      | 04 08:00   | 05 12:00
        """,
        site_days="""
        firm_id | job_id | site_day | flow_first_at | flow_seconds | site_seconds
        n       | a      | 1        | 04 09:00      | 60           | 60
        n       | a      | 2        | 05 09:00      | -            | -
        s       | a      | 1        | 04 09:00      | 60           | 60
        s       | a      | 2        | -             | -            | -
        n       | b      | 1        | 04 09:00      | 60           | -
        s       | b      | 1        | 04 09:00      | 60           | -
        n       | c      | 1        | 04 09:00      | 60           | 60
        n       | c      | 2        | -             | -            | 60
        """,
    )
