"""Jobs kept by one figure each: kilograms and hours in total, came back or not on no day, and when a visit closes."""

from __future__ import annotations

from datetime import date

from tests.pipeline.sql.on_rows import check


def test_totals_stand_in_for_weighings_and_for_the_clock() -> None:
    """n a: wet 1.2 kg at 2 are 0.6, 6.5 h are 390 min; s a: dry; n b: its own times go first; n c: a strainer was weighed,
    so that the magnet's total is not known."""
    check(
        "features/ftr_outcome",
        """
        firm_id | job_id | magnetite_kg | site_minutes | flush_minutes | is_second_day
        n       | a      | 0.6          | 390          | -             | -
        n       | b      | -            | 100          | 90            | false
        n       | c      | -            | -            | -             | -
        s       | a      | 1.5          | -            | -             | -
        """,
        jobs="""
        firm_id | job_id | arrived_at | left_at  | caught_total_kg | caught_total_weighed | worked_hours
        n       | a      | -          | 04 16:00 | 1.2             | -                    | 6.5
        s       | a      | -          | -        | 1.5             | dry                  | -
        n       | b      | 04 08:00   | 04 10:00 | -               | -                    | 9
        n       | c      | -          | -        | 2.0             | wet                  | -
        """,
        ftr_wet_dry="firm_id | wet_dry_ratio | wet_dry_method \n n | 2 | firm_toml \n s | 1.9 | weighed",
        site_days="""
        firm_id | job_id | site_day | flow_first_at | flow_seconds | site_seconds
        n       | b      | 1        | 04 08:30      | 5400         | 6000
        """,
        ftr_catch_curve="""
        firm_id | job_id | catch_no | trap     | dry_g | is_magnetic
        n       | c      | 1        | strainer | 10    | false
        """,
    )


def test_in_a_firm_with_a_return_on_no_known_day_no_yes_and_no_no_counts() -> None:
    """Firm n: a came back, and its callback is of the same number in firm s; firm s: every return has its day."""
    days = (date(2025, 12, 1) - date(2024, 3, 4)).days
    check(
        "features/ftr_callback",
        f"""
        firm_id | job_id | followed_days | first_debris_day
        n       | a      | 0             | -
        n       | b      | 0             | -
        n       | c      | {days}        | -
        n       | d      | {days}        | 10
        n       | e      | 0             | -
        s       | a      | {days}        | 20
        s       | b      | {days}        | -
        """,
        jobs="""
        firm_id | job_id | visit_date | loaded_on  | came_back
        n       | a      | 2024-03-04 | 2024-03-05 | true
        n       | b      | 2024-03-04 | 2024-03-05 | false
        n       | c      | 2024-03-04 | 2024-03-05 | -
        n       | d      | 2024-03-04 | 2024-03-05 | -
        n       | e      | 2024-03-04 | 2024-03-05 | true
        s       | a      | 2024-03-04 | 2024-03-05 | true
        s       | b      | 2024-03-04 | 2024-03-05 | false
        """,
        callbacks="""
        firm_id | job_id | called_back_on | cause
        s       | a      | 2024-03-24     | noise
        n       | d      | 2024-03-14     | noise
        """,
        follow_up_end="firm_id | callbacks_known_to \n n | 2025-12-01 \n s | 2025-12-01",
    )


def test_the_age_that_was_told_stands_where_no_year_is_known() -> None:
    check(
        "features/ftr_quote",
        """
        firm_id | job_id | age_years | years_since_clean | panel_share | loop_share
        n       | a      | 15        | 15                | -           | -
        n       | b      | 5         | 5                 | -           | -
        s       | a      | 15        | 5                 | 1           | 0
        """,
        jobs="""
        firm_id | job_id | visit_date | install_year | last_cleaned_year | emitter_age_years
        n       | a      | 2025-03-04 | -            | -                 | 15
        n       | b      | 2025-03-04 | 2020         | -                 | 15
        s       | a      | 2025-03-04 | -            | 2020              | 15
        """,
        counted_emitters="""
        firm_id | job_id | emitter_count | named_count | panels | loops
        n       | a      | 4             | 0           | 0      | 0
        s       | a      | 1             | 1           | 1      | 0
        """,
        ftr_volume="firm_id | job_id | emitter_count \n n | a | 4 \n n | b | 1 \n s | a | 1",
    )


def test_a_visit_without_any_clock_stays_open_for_its_five_days() -> None:
    check(
        "staging/stg_visits",
        "firm_id | job_id | opens_at | closes_at \n n | a | 04 00:00 | 10 00:00 \n s | a | 05 00:00 | 06 00:00",
        jobs="""
        firm_id | job_id | visit_date | flush_ended_at
        n       | a      | 04         | -
        s       | a      | 05         | 05 12:00
        """,
    )
