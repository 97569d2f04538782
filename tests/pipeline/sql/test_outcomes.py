"""What a job gave and took, its heat, its callbacks, and what was known before it: sums by hand."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check

# n a and s a share a number; n b lacks whatever may be lacking
JOBS = """
firm_id | job_id | visit_date | arrived_at | left_at  | machine_max_flow_l_min | mains_conductivity_us_cm | final_conductivity_us_cm | strainer_checked
s       | a      | 04         | 04 08:00   | -        | 20                     | 0                        | 300                      | true
n       | b      | 04         | -          | 04 16:00 | -                      | -                        | 300                      | -
n       | a      | 04         | 04 08:00   | 05 13:00 | 40                     | 200                      | 300                      | false
n       | c      | 04         | 04 08:00   | 05 13:00 | 40                     | 1                        | 3                        | false
n       | d      | 04         | -          | -        | -                      | -                        | -                        | false
n       | e      | 04         | -          | -        | -                      | -                        | -                        | false
"""


def test_the_outcome_of_a_job_adds_up_its_weighings_days_and_readings() -> None:
    """n d weighed no trap, n e one that holds magnetite alone; n a: 0.1 + 0.05 kg and 0.005 + 0.007 in a trap, 60 + 120 min of 3 days, flow (10 + 20 + 30) / 3 of 40; s a: a day unknown, traps seen empty."""
    check(
        "features/ftr_outcome",
        """
        firm_id | job_id | magnet_catches | trap_catches | wet_dry_ratio | wet_dry_method | magnetite_kg | magnetite_in_traps_kg | non_magnetic_kg | flush_minutes | site_minutes | is_second_day | mean_flow_l_min | flow_share | focus_share | rinse_closeness
        n       | a      | 2              | 4            | 2             | firm_toml      | 0.15         | 0.012                 | 0.03            | 180           | 200          | true          | 20              | 0.5        | 0.75        | 0.5
        n       | b      | 0              | 0            | 2             | firm_toml      | -            | -                     | -               | 60            | -            | false         | -               | -          | 0           | -
        n       | c      | 0              | 1            | 2             | firm_toml      | -            | 0                     | 0.008           | -             | -            | true          | -               | -          | -           | 2
        n       | d      | 1              | 0            | 2             | firm_toml      | 0.009        | -                     | -               | 60            | -            | false         | -               | -          | -           | -
        n       | e      | 0              | 1            | 2             | firm_toml      | -            | 0.011                 | 0               | 60            | -            | false         | -               | -          | -           | -
        s       | a      | 1              | 0            | 1.9           | weighed        | 0.007        | 0                     | 0               | -             | -            | true          | 15              | 0.75       | 1           | -
        """,
        ordered=True,
        jobs=JOBS,
        ftr_wet_dry="firm_id | wet_dry_ratio | wet_dry_method \n n | 2 | firm_toml \n s | 1.9 | weighed",
        site_days="""
        firm_id | job_id | site_day | flow_first_at | flow_seconds | site_seconds
        n       | a      | 1        | 04 09:00      | 3600         | 4000
        n       | a      | 2        | 05 09:00      | 7200         | 7400
        n       | a      | 3        | -             | -            | 600
        n       | b      | 1        | 04 09:00      | 3600         | 3600
        n       | c      | 1        | 04 09:00      | 3600         | -
        n       | c      | 2        | 05 09:00      | -            | -
        n       | d      | 1        | 04 09:00      | 3600         | 3600
        n       | e      | 1        | 04 09:00      | 3600         | 3600
        s       | a      | 1        | 04 09:00      | 60           | 60
        s       | a      | 2        | 05 09:00      | -            | 60
        """,
        ftr_catch_curve="""
        firm_id | job_id | catch_no | trap         | dry_g | is_magnetic
        n       | a      | 1        | magnet       | 100   | true
        n       | a      | 2        | magnet       | 50    | true
        n       | a      | 3        | strainer     | 10    | false
        n       | a      | 4        | machine_base | 20    | false
        n       | a      | 5        | strainer     | 5     | true
        n       | a      | 6        | strainer     | 7     | true
        n       | d      | 1        | magnet       | 9     | true
        n       | e      | 1        | strainer     | 11    | true
        s       | a      | 1        | magnet       | 7     | true
        n       | c      | 1        | strainer     | 8     | false
        """,
        readings="""
        firm_id | job_id | read_at  | flow_l_min | focus_emitter_no
        n       | a      | 04 09:00 | 10         | 1
        n       | a      | 04 09:10 | 20         | -
        n       | a      | 04 09:20 | 30         | 2
        n       | a      | 04 09:30 | -          | 2
        s       | a      | 04 09:30 | 15         | 2
        n       | b      | 04 09:30 | -          | -
        """,
    )


def test_heat_is_the_trapezoid_above_twenty_degrees_with_nights_left_out() -> None:
    """n a: 1 h of (20 + 40) / 2, 5 h 59 over midnight of 40, not 6 h 00; by day 7 h of 40 and 1 h from 40 to 0: 569.3.

    s a: 19 °C is no heat, return alone is the mean; 00:00 is the day before: 10 h of 5; n b has no temperature; n c 1 h of (10 + 20) / 2.
    """
    check(
        "features/ftr_heat",
        """
        firm_id | job_id | temperature_readings | degree_hours_above_20_c | start_temp_c | peak_temp_c | water_only_energy_low_kwh | water_only_energy_kwh | water_only_energy_high_kwh
        n       | a      | 7                    | 569.333333              | 40           | 60          | 2.326                  | 2.5586             | 2.7912
        n       | b      | 0                    | -                       | -            | -           | -                      | -                  | -
        n       | c      | 2                    | 15                      | 30           | 40          | 0.1163                 | 0.2326             | 0.3489
        s       | a      | 3                    | 50                      | 19           | 30          | 0.12793                | 0.25586            | 0.38379
        """,
        ordered=True,
        jobs=JOBS,
        ftr_volume="""
        firm_id | job_id | system_volume_low_l | system_volume_l | system_volume_high_l
        s       | a      | 10                  | 20              | 30
        n       | b      | 10                  | 20              | 30
        n       | c      | 10                  | 20              | 30
        n       | a      | 100                 | 110             | 120
        """,
        readings="""
        firm_id | job_id | read_at  | flow_temp_c | return_temp_c
        n       | a      | 06 15:00 | 10          | 6
        n       | a      | 06 14:00 | 60          | 60
        n       | a      | 06 07:00 | 60          | 60
        n       | a      | 05 02:59 | 60          | 60
        n       | a      | 04 21:00 | 60          | 60
        n       | a      | 04 20:00 | 50          | 30
        n       | a      | 06 13:00 | -           | -
        n       | a      | 07 00:01 | 10          | -
        s       | a      | 05 00:00 | 30          | -
        s       | a      | 04 14:00 | -           | 19
        s       | a      | 05 06:00 | 30          | 20
        n       | b      | 04 14:00 | -           | -
        n       | c      | 05 09:00 | 40          | 40
        n       | c      | 05 08:00 | 30          | 30
        """,
    )


KNOWN_TO = """
firm_id | callbacks_known_to
n       | 2025-12-01
s       | 2024-04-03
"""
FOLLOWED = """
firm_id | job_id | visit_date | loaded_on  | followed_until
n       | to365  | 2024-03-04 | 2026-01-01 | 2025-03-04
n       | to364  | 2024-03-04 | 2026-01-01 | 2025-03-03
n       | day365 | 2024-03-04 | 2026-01-01 | 2025-03-04
n       | day366 | 2024-03-04 | 2026-01-01 | 2025-03-05
n       | ahead  | 2025-11-20 | 2025-11-25 | 2030-01-01
n       | owner  | 2025-11-20 | 2025-12-11 | 2030-01-01
n       | none   | 2025-11-30 | 2026-01-01 | -
n       | young  | 2025-12-20 | 2026-01-01 | -
n       | odd    | 2024-03-04 | 2026-01-01 | 2024-03-01
n       | beyond | 2024-03-04 | 2026-01-01 | 2024-03-14
n       | after  | 2024-03-04 | 2026-01-01 | 2024-03-14
n       | early  | 2024-03-04 | 2026-01-01 | 2024-03-14
s       | to365  | 2024-02-01 | 2024-02-03 | -
s       | ahead  | 2024-02-01 | 2024-02-08 | -
q       | to365  | 2024-02-01 | 2024-02-08 | -
q       | ahead  | 2024-02-01 | 2024-02-08 | 2024-03-01
"""
CALLED = """
firm_id | job_id | called_back_on | cause        | debris_related
n       | day365 | 2025-03-04     | noise        | -
n       | day366 | 2025-03-05     | pump         | -
n       | to364  | 2025-03-04     | pump         | -
n       | beyond | 2024-06-12     | leak         | -
n       | beyond | 2024-05-03     | blockage     | -
n       | beyond | 2024-04-03     | boiler_fault | -
n       | early  | 2024-03-14     | cold_emitter | -
n       | early  | 2024-03-24     | other        | true
n       | early  | 2024-03-09     | boiler_fault | -
n       | early  | 2024-03-11     | other        | -
n       | early  | 2024-03-12     | boiler_fault | -
n       | early  | 2024-03-13     | cold_emitter | false
n       | after  | 2025-03-05     | noise        | -
n       | beyond | 2025-06-12     | leak         | -
n       | after  | 2024-03-14     | boiler_fault | -
s       | ahead  | 2024-04-03     | leak         | -
s       | ahead  | 2024-04-02     | noise        | -
s       | ahead  | 2024-04-03     | blockage     | -
n       | gone   | 2024-03-05     | leak         | -
"""


def test_each_job_is_followed_to_its_stated_end_or_that_of_the_firm_and_later_callbacks_do_not_count() -> None:
    """4 March 2024 to 4 March 2025 is 365 days: the leap day lies before. `ahead` of s came back and is followed for as long
    as `to365` of the same firm, which did not; nothing is known of q, but what it states."""
    check(
        "features/ftr_callback",
        """
        firm_id | job_id | followed_days | first_debris_day | first_other_day | first_unknown_day | observed_days | has_debris_callback_365 | is_censored_365 | has_later_callback_365
        n       | after  | 10            | -                | -               | 10                | 10            | -                       | true            | false
        n       | ahead  | 11            | -                | -               | -                 | 11            | -                       | true            | false
        n       | beyond | 10            | -                | -               | -                 | 10            | -                       | true            | true
        n       | day365 | 365           | 365              | -               | -                 | 365           | true                    | false           | false
        n       | day366 | 366           | 366              | -               | -                 | 365           | false                   | false           | false
        n       | early  | 10            | 10               | 7               | 5                 | 10            | true                    | false           | true
        n       | none   | 1             | -                | -               | -                 | 1             | -                       | true            | false
        n       | odd    | 0             | -                | -               | -                 | 0             | -                       | true            | false
        n       | owner  | 21            | -                | -               | -                 | 21            | -                       | true            | false
        n       | to364  | 364           | -                | -               | -                 | 364           | -                       | true            | true
        n       | to365  | 365           | -                | -               | -                 | 365           | false                   | false           | false
        n       | young  | 0             | -                | -               | -                 | 0             | -                       | true            | false
        q       | ahead  | 7             | -                | -               | -                 | 7             | -                       | true            | false
        q       | to365  | 0             | -                | -               | -                 | 0             | -                       | true            | false
        s       | ahead  | 62            | 61               | 62              | -                 | 61            | true                    | false           | false
        s       | to365  | 62            | -                | -               | -                 | 62            | -                       | true            | false
        """,
        ordered=True,
        jobs="\n".join([FOLLOWED.strip().splitlines()[0], *FOLLOWED.strip().splitlines()[:0:-1]]),
        callbacks=CALLED,
        follow_up_end=KNOWN_TO,
    )


def test_each_cause_says_whether_it_was_debris_unless_the_log_does() -> None:
    causes = {"blockage": 1, "cold_emitter": 1, "noise": 1, "pump": 1, "leak": 2, "other": 2, "boiler_fault": 3}
    days = {1: "1 | - | -", 2: "- | 1 | -", 3: "- | - | 1"}
    check(
        "features/ftr_callback",
        "job_id | first_debris_day | first_other_day | first_unknown_day\n"
        + "\n".join(f"{cause} | {days[kind]}" for cause, kind in causes.items()),
        jobs="firm_id | job_id | visit_date | loaded_on\n" + "\n".join(f"n | {c} | 04 | 2026-01-01" for c in causes),
        callbacks="firm_id | job_id | called_back_on | cause\n" + "\n".join(f"n | {c} | 05 | {c}" for c in causes),
        follow_up_end="firm_id | callbacks_known_to\nn | 2025-06-01",
    )


SPANS = """
batch_no | source_no | table_name | firm_id | job_id | rows
1        | 1         | jobs       | n       | a      | 1
1        | 2         | callbacks  | n       | a      | 2
2        | 1         | callbacks  | n       | b      | 1
2        | 1         | callbacks  | s       | a      | 1
2        | 1         | callbacks  | c       | a      | 1
2        | 1         | callbacks  | k       | a      | 1
2        | 1         | callbacks  | zz      | a      | 1
2        | 1         | callbacks  | aa      | a      | 1
3        | 2         | jobs       | s       | b      | 1
3        | 1         | catches    | n       | a      | 9
"""
HANDED_IN = """
batch_no | source_no | table_name | rows | loaded_on
1        | 1         | jobs       | 1    | 2025-05-09
1        | 2         | callbacks  | 2    | 2025-05-09
2        | 1         | callbacks  | 2    | 2025-05-07
2        | 2         | jobs       | 0    | 2025-05-20
3        | 1         | catches    | 9    | 2025-05-21
3        | 2         | jobs       | 1    | 2025-05-21
4        | 1         | callbacks  | 3    | 2025-05-22
5        | 1         | callbacks  | 0    | 2025-05-11
"""


def test_the_end_of_follow_up_of_a_firm_is_the_last_day_on_which_its_callbacks_were_handed_in() -> None:
    """The table with a row that was rejected (batch 4) and the empty one (5) are nobody's where there are two firms."""
    both = {"checked_spans": SPANS, "checked_sources": HANDED_IN}
    jobs = "firm_id | job_id\nn | a\nn | b"

    others = "\n".join(f"{firm} | 2025-05-07" for firm in ("aa", "c", "k"))
    head = f"firm_id | callbacks_known_to\n{others}\n"
    check(
        "core/follow_up_end",
        head + "n | 2025-05-09\ns | 2025-05-07\nzz | 2025-05-07",
        ordered=True,
        jobs=jobs + "\ns | a",
        **both,
    )
    check("core/follow_up_end", head + "n | 2025-05-11\ns | 2025-05-07\nzz | 2025-05-07", jobs=jobs, **both)
