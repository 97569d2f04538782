"""What is known before a job: shares and counts of its emitters, ages, water and pre-dose."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check

QUOTED = """
firm_id | job_id | visit_date | is_simulated | install_year | last_cleaned_year | predosed_on | survey_ph | survey_conductivity_us_cm | survey_turbidity_ntu | survey_iron_mg_l | mains_conductivity_us_cm
s       | a      | 2024-03-04 | true         | 1990         | -                 | 2024-02-28  | -         | -                         | -                    | 5                | 300
n       | c      | 2025-06-30 | false        | -            | -                 | -           | -         | -                         | 5                    | -                | -
n       | b      | 2025-12-31 | false        | -            | 2020              | -           | -         | -                         | -                    | -                | 300
n       | a      | 2025-01-01 | false        | 2000         | 2015              | 2024-12-25  | 8         | 700                       | 5                    | 3                | 300
"""


def test_what_is_known_before_a_job_is_counted_over_its_own_emitters() -> None:
    """n a: panels 2 and loops 1 of 3 with a kind, lengths (1600 + 1500 + 800) / 3, cold 2 of 3 told, upstairs 1 of 3 told."""
    check(
        "features/ftr_quote",
        """
        firm_id | job_id | system_volume_l | volume_spread_share | emitter_count | panel_share | loop_share  | mean_emitter_length_mm | long_emitter_count | cold_count | cold_share | upstairs_share | min_tail_bore_mm
        n       | a      | 100             | 0.5                 | 4             | 0.666666667 | 0.333333333 | 1300                   | 1                  | 2          | 0.666666667 | 0.333333333    | 10
        n       | b      | 50              | 0.2                 | 1             | -           | -           | -                      | -                  | -          | -          | -              | -
        n       | c      | 50              | 0.2                 | -             | -           | -           | -                      | -                  | -          | -          | -              | -
        s       | a      | 80              | 0.25                | 1             | 0           | 1           | 1000                   | 0                  | 0          | 0          | 1              | 22
        """,
        ordered=True,
        jobs=QUOTED,
        ftr_volume="""
        firm_id | job_id | emitter_count | system_volume_low_l | system_volume_l | system_volume_high_l
        n       | a      | 4             | 80                  | 100             | 130
        n       | b      | 1             | 45                  | 50              | 55
        n       | c      | 0             | 45                  | 50              | 55
        s       | a      | 1             | 70                  | 80              | 90
        """,
        emitters="""
        firm_id | job_id | emitter_no | tail_bore_mm
        n       | a      | 1          | 15
        n       | a      | 2          | 10
        n       | a      | 3          | -
        s       | a      | 1          | 22
        """,
        ftr_emitter="""
        firm_id | job_id | emitter_no | emitter_kind | length_mm | cold_at_survey | floor_level
        n       | a      | 1          | panel_11     | 1600      | true           | 0
        n       | a      | 2          | panel_22     | 1500      | true           | 1
        n       | a      | 3          | underfloor_loop | 800       | false          | -1
        n       | a      | 4          | -            | -         | -              | -
        n       | b      | 1          | -            | -         | -              | -
        s       | a      | 1          | coil         | 1000      | false          | 2
        """,
    )


def test_what_was_counted_stands_in_where_the_list_does_not_say_it() -> None:
    """n a: nothing listed; of 8, 3 cold and 2 upstairs, of 4 with a kind 3 panels. n b: the list says it all. s a: the list
    says nothing of cold, floor and length. n c: 2 cold of none counted."""
    check(
        "features/ftr_quote",
        """
        firm_id | job_id | emitter_count | panel_share | loop_share | long_emitter_count | cold_count | cold_share | upstairs_share
        n       | a      | 8             | 0.75        | 0.25       | 1                  | 3          | 0.375      | 0.25
        n       | b      | 2             | 1           | 0          | 0                  | 1          | 0.5        | 1
        n       | c      | -             | -           | -          | -                  | 2          | -          | -
        s       | a      | 1             | 1           | 0          | 2                  | 1          | 1          | 0
        """,
        ordered=True,
        jobs="""
        firm_id | job_id | cold_count_at_survey | upstairs_count_at_survey | long_count_at_survey
        n       | a      | 3                    | 2                        | 1
        n       | b      | 0                    | 0                        | 7
        n       | c      | 2                    | -                        | -
        s       | a      | 1                    | 0                        | 2
        """,
        counted_emitters="""
        firm_id | job_id | emitter_count | named_count | panels | loops
        n       | a      | 8             | 4           | 3      | 1
        n       | b      | 5             | 5           | 0      | 5
        s       | a      | 1             | -           | 0      | 0
        """,
        ftr_volume="""
        firm_id | job_id | emitter_count
        n       | a      | 8
        n       | b      | 2
        n       | c      | 0
        s       | a      | 1
        """,
        ftr_emitter="""
        firm_id | job_id | emitter_no | emitter_kind | length_mm | cold_at_survey | floor_level
        n       | b      | 1          | panel_11     | 1500      | true           | 1
        n       | b      | 2          | panel_11     | 1500      | false          | 1
        s       | a      | 1          | panel_11     | -         | -              | -
        """,
    )


def test_ages_water_and_predose_are_taken_from_the_job() -> None:
    check(
        "features/ftr_quote",
        """
        firm_id | job_id | visit_date | is_simulated | age_years | years_since_clean | was_cleaned_before | predose_days | water_known | conductivity_excess_us_cm
        n       | a      | 2025-01-01 | false        | 25        | 10                | true               | 7            | true        | 400
        n       | b      | 2025-12-31 | false        | -         | 5                 | true               | 0            | false       | -
        n       | c      | 2025-06-30 | false        | -         | -                 | false              | 0            | true        | -
        s       | a      | 2024-03-04 | true         | 34        | 34                | false              | 5            | true        | -
        n       | d      | 2025-06-30 | false        | -         | -                 | false              | 0            | true        | -
        n       | e      | 2025-06-30 | false        | -         | -                 | false              | 0            | true        | -
        """,
        jobs=QUOTED.rstrip() + "\nn | d | 2025-06-30 | false | - | - | - | 7 | - | - | - | 300\n"
        "n | e | 2025-06-30 | false | - | - | - | - | 500 | - | - | -",
        ftr_volume="firm_id | job_id | system_volume_l \n n | a | 1 \n n | b | 1 \n n | c | 1 \n n | d | 1 \n n | e | 1 \n s | a | 1",
    )
