"""Weighings: wet against dry, the debris curve of a job and of each emitter, by sums written beside the rows."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check


def test_a_pair_is_one_wet_and_one_dry_mass_of_one_trap_at_one_moment() -> None:
    """Left out: dry heavier, dry 0, three of them, two wet, two dry, another trap, moment, job or firm, and debris that
    sticks to no magnet. Equal is a pair."""
    check(
        "features/ftr_wet_dry_pair",
        """
        firm_id | job_id | trap   | caught_at | wet_dry_ratio
        n       | a      | magnet | 04 10:00  | 2.5
        s       | a      | magnet | 04 10:00  | 2
        n       | a      | magnet | 04 10:10  | 1
        n       | a      | magnet | 04 11:40  | 2
        n       | a      | strainer | 04 12:00 | 2.4
        """,
        catches="""
        firm_id | job_id | catch_no | caught_at | trap     | weighed | mass_g | sticks_to_magnet
        n       | a      | 1        | 04 10:00  | magnet   | wet     | 500    | -
        n       | a      | 2        | 04 10:00  | magnet   | dry     | 200    | -
        s       | a      | 2        | 04 10:00  | magnet   | dry     | 300    | -
        s       | a      | 1        | 04 10:00  | magnet   | -       | 600    | -
        n       | a      | 3        | 04 10:10  | magnet   | wet     | 70    | -
        n       | a      | 4        | 04 10:10  | magnet   | dry     | 70    | -
        n       | a      | 5        | 04 10:20  | magnet   | wet     | 70    | -
        n       | a      | 6        | 04 10:20  | magnet   | dry     | 71    | -
        n       | a      | 7        | 04 10:30  | magnet   | wet     | 70    | -
        n       | a      | 8        | 04 10:30  | magnet   | dry     | 0    | -
        n       | a      | 9        | 04 10:40  | magnet   | wet     | 70    | -
        n       | a      | 10       | 04 10:40  | magnet   | dry     | 40    | -
        n       | a      | 11       | 04 10:40  | magnet   | wet     | 80    | -
        n       | a      | 12       | 04 10:50  | magnet   | wet     | 70    | -
        n       | a      | 13       | 04 10:50  | magnet   | wet     | 35    | -
        n       | a      | 14       | 04 11:00  | magnet   | dry     | 70    | -
        n       | a      | 15       | 04 11:00  | magnet   | dry     | 35    | -
        n       | a      | 16       | 04 11:10  | magnet   | wet     | 70    | -
        n       | a      | 17       | 04 11:10  | strainer | dry     | 35    | -
        n       | b      | 18       | 04 11:20  | magnet   | wet     | 70    | -
        n       | c      | 19       | 04 11:20  | magnet   | dry     | 35    | -
        s       | d      | 20       | 04 11:30  | magnet   | wet     | 70    | -
        n       | d      | 20       | 04 11:30  | magnet   | dry     | 35    | -
        n       | a      | 21       | 04 11:40  | magnet   | wet     | 1    | -
        n       | a      | 22       | 04 11:40  | magnet   | dry     | 0.5    | -
        n       | a      | 23       | 04 12:00  | strainer | wet     | 120    | true
        n       | a      | 24       | 04 12:00  | strainer | dry     | 50     | true
        n       | a      | 25       | 04 12:10  | strainer | wet     | 120    | false
        n       | a      | 26       | 04 12:10  | strainer | dry     | 100    | false
        n       | a      | 27       | 04 12:20  | strainer | wet     | 120    | -
        n       | a      | 28       | 04 12:20  | strainer | dry     | 100    | -
        """,
    )


def test_the_ratio_of_a_firm_is_the_median_of_its_pairs_new_and_kept_to_two_places() -> None:
    """n: 1.5, 2.004, 2.9 (mean 2.13); s: 2.0 and 2.5 in the middle; w weighed none both ways; the twice-named pair counts twice."""
    check(
        "features/ftr_wet_dry",
        """
        firm_id | wet_dry_ratio | wet_dry_method    | other_wet_dry_ratio
        n       | 2             | weighed_both_ways | 1.3
        s       | 2.25          | weighed_both_ways | 1.3
        w       | 1.8           | firm_toml         | 1.3
        v       | 1.5           | weighed_both_ways | 1.3
        """,
        jobs="firm_id | job_id \n n | a \n n | b \n s | a \n w | a \n v | a",
        book_settings="wet_dry_ratio | other_wet_dry_ratio \n 1.8 | 1.3",
        ftr_wet_dry_pair="firm_id | wet_dry_ratio \n n | 1.5 \n n | 2.9 \n s | 2.5 \n v | 1.5 \n v | 2.5",
        kept_wet_dry_pair="firm_id | wet_dry_ratio \n n | 2.004 \n s | 2.0 \n x | 9 \n v | 1.5",
    )


JOBS = """
firm_id | job_id | flush_started_at | flush_ended_at
n       | a      | 04 09:00         | 05 12:00
s       | a      | 04 10:00         | 04 16:00
n       | b      | 04 09:00         | 04 15:00
"""
RATIOS = "firm_id | wet_dry_ratio | other_wet_dry_ratio \n n | 2 | 1.25 \n s | 2.5 | 1.25"
# n a: 420 minutes on day one, day two from 09:00; s a: one day; n b: nobody knows day one, nor the clock after it
JOB_DAYS = """
firm_id | job_id | day_no | first_at | last_at  | minutes_before | minutes
n       | a      | 1      | 04 09:00 | 04 16:00 | 0              | 420
n       | a      | 2      | 05 09:00 | 05 12:00 | 420            | 180
s       | a      | 1      | 04 10:00 | 04 16:00 | 0              | 360
n       | b      | 1      | 04 09:00 | 04 15:00 | 0              | -
"""


def test_the_curve_of_a_job_adds_dry_masses_against_flush_minutes() -> None:
    """n a: 100 + 50 + 25 dry of the magnet, wet over 2; strainer and base apart, 30 and 40 g of wet sand over 1.25; a
    weighing before the start is at minute 0."""
    check(
        "features/ftr_catch_curve",
        """
        firm_id | job_id | catch_no | caught_at   | trap         | focus_emitter_no | minutes_since_start | interval_minutes | dry_g | cumulative_magnetite_kg | cumulative_non_magnetic_kg | share_of_magnetite
        n       | a      | 1        | 04 08:00    | strainer     | 3                | 0                   | 0                | 24    | 0                       | 0.024                      | 0
        n       | a      | 2        | 04 09:30    | magnet       | 1                | 30                  | 30               | 100   | 0.1                     | 0.024                      | 0.571428571
        n       | a      | 4        | 04 16:00    | magnet       | 2                | 420                 | 390              | 50    | 0.15                    | 0.024                      | 0.857142857
        n       | a      | 3        | 05 09:00:30 | magnet       | -                | 420.5               | 0.5              | 25    | 0.175                   | 0.024                      | 1
        n       | a      | 5        | 05 12:30    | machine_base | -                | 600                 | 600              | 32    | 0.175                   | 0.056                      | 1
        n       | b      | 1        | 04 09:10    | magnet       | -                | 10                  | 10               | 5     | 0.005                   | 0                          | 0.5
        n       | b      | 2        | 04 09:30    | magnet       | -                | 30                  | 20               | 5     | 0.01                    | 0                          | 1
        s       | a      | 1        | 04 11:00    | magnet       | -                | 60                  | 60               | 40    | 0.04                    | 0                          | 1
        """,
        ordered=True,
        jobs=JOBS,
        ftr_wet_dry=RATIOS,
        ftr_job_day=JOB_DAYS,
        catches="""
        firm_id | job_id | catch_no | caught_at   | trap         | focus_emitter_no | weighed | mass_g
        s       | a      | 1        | 04 11:00    | magnet       | -                | wet     | 100
        n       | b      | 2        | 04 09:30    | magnet       | -                | dry     | 5
        n       | a      | 5        | 05 12:30    | machine_base | -                | wet     | 40
        n       | b      | 1        | 04 09:10    | magnet       | -                | dry     | 5
        n       | a      | 3        | 05 09:00:30 | magnet       | -                | dry     | 25
        n       | a      | 4        | 04 16:00    | magnet       | 2                | -       | 100
        n       | a      | 2        | 04 09:30    | magnet       | 1                | wet     | 200
        n       | a      | 1        | 04 08:00    | strainer     | 3                | wet     | 30
        """,
    )


def test_what_sticks_to_a_magnet_is_magnetite_wherever_it_was_caught() -> None:
    """60 g wet of the strainer: magnetite over 2, sand over 1.25, and what was not tried counts as sand does."""
    check(
        "features/ftr_catch_curve",
        """
        firm_id | job_id | catch_no | is_magnetic | dry_g | cumulative_magnetite_kg | cumulative_non_magnetic_kg
        n       | a      | 1        | true        | 30    | 0                       | 0
        n       | a      | 2        | false       | 48    | 0                       | 0.048
        n       | a      | 3        | false       | 48    | 0                       | 0.096
        n       | a      | 4        | true        | 60    | 0.06                    | 0.096
        """,
        jobs=JOBS,
        ftr_wet_dry=RATIOS,
        ftr_job_day=JOB_DAYS,
        catches="""
        firm_id | job_id | catch_no | caught_at | trap         | weighed | mass_g | sticks_to_magnet
        n       | a      | 1        | 04 10:00  | strainer     | wet     | 60     | true
        n       | a      | 2        | 04 10:10  | strainer     | wet     | 60     | false
        n       | a      | 3        | 04 10:20  | machine_base | -       | 60     | -
        n       | a      | 4        | 04 10:30  | magnet       | dry     | 60     | -
        """,
    )


def test_weighings_at_one_moment_stand_in_the_order_of_their_numbers() -> None:
    """Two magnets at 09:30, numbered against the order in the file; before the start and after the end by their time."""
    check(
        "features/ftr_catch_curve",
        """
        firm_id | job_id | catch_no | minutes_since_start | interval_minutes | cumulative_magnetite_kg | cumulative_non_magnetic_kg
        n       | a      | 6        | 0                   | 0                | 0.004                   | 0
        n       | a      | 5        | 0                   | 0                | 0.012                   | 0
        n       | a      | 3        | 30                  | 30               | 0.013                   | 0
        n       | a      | 7        | 30                  | 0                | 0.015                   | 0
        n       | a      | 8        | 30                  | 30               | 0.015                   | 0.016
        n       | a      | 9        | 30                  | 0                | 0.079                   | 0.016
        n       | a      | 10       | 30                  | 0                | 0.207                   | 0.016
        n       | a      | 11       | 30                  | 0                | 0.463                   | 0.016
        n       | b      | 3        | 360                 | 360              | 0.001                   | 0
        n       | b      | 2        | 360                 | 0                | 0.003                   | 0
        s       | a      | 6        | 90                  | 90               | 0.032                   | 0
        """,
        ordered=True,
        jobs=JOBS,
        ftr_wet_dry=RATIOS,
        ftr_job_day=JOB_DAYS,
        catches="""
        firm_id | job_id | catch_no | caught_at | trap     | weighed | mass_g
        n       | b      | 2        | 04 15:20  | magnet   | dry     | 2
        n       | b      | 3        | 04 15:10  | magnet   | dry     | 1
        n       | a      | 8        | 04 09:30  | strainer | dry     | 16
        n       | a      | 10       | 04 09:30  | magnet   | dry     | 128
        n       | a      | 11       | 04 09:30  | magnet   | dry     | 256
        n       | a      | 7        | 04 09:30  | magnet   | dry     | 2
        n       | a      | 9        | 04 09:30  | magnet   | dry     | 64
        n       | a      | 5        | 04 08:50  | magnet   | dry     | 8
        n       | a      | 3        | 04 09:30  | magnet   | dry     | 1
        n       | a      | 6        | 04 08:40  | magnet   | dry     | 4
        s       | a      | 6        | 04 11:30  | magnet   | dry     | 32
        """,
    )


def test_a_day_whose_begin_nobody_knows_has_no_minutes_and_a_first_day_has() -> None:
    check(
        "features/ftr_catch_curve",
        """
        firm_id | job_id | catch_no | minutes_since_start | cumulative_magnetite_kg | share_of_magnetite
        n       | b      | 1        | 60                  | 0                       | -
        n       | a      | 1        | 60                  | 0.01                    | 0.333333333
        n       | a      | 2        | -                   | 0.03                    | 1
        n       | a      | 3        | -                   | 0.03                    | 1
        """,
        jobs=JOBS,
        ftr_wet_dry=RATIOS,
        ftr_job_day="""
        firm_id | job_id | day_no | first_at | last_at  | minutes_before | minutes
        n       | b      | 1      | 04 09:00 | 04 15:00 | 0              | -
        n       | a      | 1      | 04 09:00 | 04 16:00 | 0              | 420
        n       | a      | 2      | 05 09:00 | 05 10:00 | 420            | -
        n       | a      | 3      | 05 11:00 | 05 12:00 | -              | 60
        """,
        catches="""
        firm_id | job_id | catch_no | caught_at | trap     | weighed | mass_g
        n       | a      | 1        | 04 10:00  | magnet   | dry     | 10
        n       | a      | 2        | 05 09:30  | magnet   | dry     | 20
        n       | a      | 3        | 05 11:30  | strainer | dry     | 20
        n       | b      | 1        | 04 10:00  | strainer | dry     | 10
        """,
    )


def test_of_a_trap_weighed_both_ways_the_dry_mass_counts_once() -> None:
    """At :00 dry counts; :10 dry is 0 beside wet, so wet; :20 both 0, the dry; :30 a dry of another firm; :40 of another trap."""
    check(
        "features/ftr_catch_curve",
        """
        firm_id | job_id | catch_no | dry_g
        n       | a      | 2        | 45
        n       | a      | 3        | 40
        n       | a      | 6        | 0
        n       | a      | 7        | 0
        n       | a      | 8        | 30
        s       | a      | 8        | 25
        n       | a      | 10       | 20
        n       | a      | 11       | 15
        n       | a      | 13       | 4
        n       | a      | 14       | 5
        n       | a      | 16       | 9
        n       | b      | 17       | 6
        n       | a      | 21       | 0
        n       | a      | 23       | 0
        n       | a      | 24       | 5
        n       | a      | 27       | 7
        n       | a      | 28       | 0.25
        n       | a      | 31       | 0.5
        """,
        jobs=JOBS,
        ftr_wet_dry=RATIOS,
        ftr_job_day=JOB_DAYS,
        catches="""
        firm_id | job_id | catch_no | caught_at | trap     | weighed | mass_g
        n       | a      | 1        | 04 11:00  | magnet   | wet     | 90
        n       | a      | 2        | 04 11:00  | magnet   | dry     | 45
        n       | a      | 3        | 04 11:10  | magnet   | wet     | 80
        n       | a      | 4        | 04 11:10  | magnet   | dry     | 0
        n       | a      | 5        | 04 11:20  | magnet   | wet     | 0
        n       | a      | 6        | 04 11:20  | magnet   | dry     | 0
        n       | a      | 8        | 04 11:30  | magnet   | wet     | 60
        s       | a      | 8        | 04 11:30  | magnet   | dry     | 25
        n       | a      | 10       | 04 11:40  | magnet   | -       | 40
        n       | a      | 11       | 04 11:40  | strainer | dry     | 15
        n       | a      | 12       | 04 11:50  | magnet   | -       | 40
        n       | a      | 13       | 04 11:50  | magnet   | dry     | 4
        n       | a      | 14       | 04 11:50  | magnet   | dry     | 5
        n       | a      | 15       | 04 12:00  | magnet   | dry     | 0
        n       | a      | 16       | 04 12:00  | magnet   | wet     | 18
        n       | a      | 7        | 04 12:00  | magnet   | wet     | 0
        n       | b      | 17       | 04 11:00  | magnet   | wet     | 12
        n       | a      | 21       | 04 12:10  | magnet   | dry     | 0
        n       | a      | 22       | 04 12:20  | magnet   | wet     | 0
        n       | a      | 23       | 04 12:20  | magnet   | dry     | 0
        n       | a      | 24       | 04 12:20  | magnet   | dry     | 5
        n       | a      | 25       | 04 12:30  | magnet   | wet     | 40
        n       | a      | 26       | 04 12:30  | magnet   | dry     | 0
        n       | a      | 27       | 04 12:30  | magnet   | dry     | 7
        n       | a      | 28       | 04 12:40  | magnet   | wet     | 0.5
        n       | a      | 29       | 04 12:40  | magnet   | dry     | 0
        n       | a      | 30       | 04 12:50  | magnet   | wet     | 1
        n       | a      | 31       | 04 12:50  | magnet   | dry     | 0.5
        """,
    )


def test_the_curve_of_an_emitter_adds_minutes_and_masses_of_its_own_magnet_weighings() -> None:
    """n a emitter 1: 30, then 0.5 and 10 minutes more; left out: strainer, whole system, minutes not known."""
    check(
        "features/ftr_emitter_curve",
        """
        firm_id | job_id | emitter_no | catch_no | focus_minutes | dry_g | cumulative_magnetite_kg
        n       | a      | 1          | 2        | 30            | 100   | 0.1
        n       | a      | 1          | 9        | 30.5          | 50    | 0.15
        n       | a      | 1          | 1        | 40.5          | 25    | 0.175
        n       | a      | 1          | 3        | 40.5          | 12.5  | 0.1875
        n       | a      | 2          | 4        | 7             | 8     | 0.008
        n       | b      | 1          | 5        | 11            | 16    | 0.016
        s       | a      | 1          | 6        | 13            | 32    | 0.032
        """,
        ordered=True,
        ftr_catch_curve="""
        firm_id | job_id | catch_no | trap     | focus_emitter_no | minutes_since_start | caught_at | interval_minutes | dry_g
        s       | a      | 6        | magnet   | 1                | 13                  | 04 10:00  | 13               | 32
        n       | b      | 5        | magnet   | 1                | 11                  | 04 10:00  | 11               | 16
        n       | a      | 4        | magnet   | 2                | 7                   | 04 10:00  | 7                | 8
        n       | a      | 7        | strainer | 1                | 40                  | 04 10:00  | 5                | 8
        n       | a      | 8        | magnet   | -                | 50                  | 04 10:00  | 5                | 8
        n       | a      | 10       | magnet   | 1                | -                   | 04 10:00  | -                | 8
        n       | a      | 3        | magnet   | 1                | 60                  | 04 11:00  | 0                | 12.5
        n       | a      | 1        | magnet   | 1                | 60                  | 04 11:00  | 10               | 25
        n       | a      | 9        | magnet   | 1                | 60                  | 04 10:30  | 0.5              | 50
        n       | a      | 2        | magnet   | 1                | 30                  | 04 10:00  | 30               | 100
        """,
    )
