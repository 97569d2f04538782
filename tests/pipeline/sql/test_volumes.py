"""Water content of emitters, pipes and whole systems, by small made-up tables in which every figure differs."""

from __future__ import annotations

import math

from tests.pipeline.sql.on_rows import check

CONTENTS = """
emitter_kind | height_mm | content_low_l_per_m | content_mid_l_per_m | content_high_l_per_m
p            | 300       | 1                   | 2                   | 4
p            | 500       | 3                   | 5                   | 8
p            | 700       | 10                  | 11                  | 12
q            | 300       | 20                  | 30                  | 40
q            | 600       | 50                  | 60                  | 70
coil         | 100       | 7                   | 8                   | 9
coil         | 200       | 17                  | 18                  | 19
"""
TYPICAL = """
emitter_kind | height_mm | length_mm | uses_logged_size
p            | 500       | 1000      | true
q            | 600       | 2000      | true
coil         | 200       | 500       | false
"""
RULES = """
rule              | applies_to | low | mid | high
typical_emitter   | any        | 6   | 7   | 9
typical_emitter   | combi      | 96  | 97  | 99
pipes_per_emitter | two_pipe   | 1   | 2   | 4
pipes_per_emitter | any        | 3   | 5   | 8
source_content    | combi      | 10  | 11  | 13
source_content    | any        | 20  | 23  | 27
litres_per_kw     | combi      | 5   | 6   | 8
litres_per_kw     | two_pipe   | 9   | 12  | 15
litres_per_kw     | any        | 30  | 40  | 50
litres_per_kw     | system     | 70  | 80  | 90
typical_system    | any        | 100 | 120 | 150
typical_system    | two_pipe   | 900 | 920 | 950
"""


def test_the_content_of_an_emitter_lies_between_the_tabulated_heights_next_to_its_own() -> None:
    """p at 400 lies half way from 300 to 500, at 550 a quarter from 500 to 700; below and above the table its end."""
    check(
        "features/ftr_emitter",
        first=("features/emitter_contents", "features/counted_emitters"),
        expected="""
        firm_id | job_id | emitter_no | emitter_kind | floor_level | cold_at_survey | length_mm | content_low_l | content_mid_l | content_high_l | content_method
        n       | a      | 1          | p            | 0           | true           | 2000      | 4             | 7             | 12             | table
        n       | a      | 2          | p            | 1           | false          | 1000      | 4.75          | 6.5           | 9              | table
        n       | a      | 3          | p            | -           | -              | 500       | 1.5           | 2.5           | 4              | table
        n       | a      | 4          | p            | 1           | true           | 1000      | 1             | 2             | 4              | table
        n       | a      | 5          | p            | 1           | true           | 1000      | 10            | 11            | 12             | table
        n       | a      | 6          | p            | -           | -              | -         | 2             | 3.5           | 6              | table_typical_size
        n       | a      | 7          | p            | -           | -              | 2000      | 6             | 10            | 16             | table_typical_size
        n       | b      | 1          | q            | -           | -              | 1000      | 35            | 45            | 55             | table
        n       | b      | 2          | coil         | -           | -              | 3000      | 8.5           | 9             | 9.5            | table_typical_size
        n       | b      | 3          | -            | 2           | true           | 1500      | 6             | 7             | 9              | typical_emitter
        n       | b      | 4          | p            | -           | -              | 1000      | 10            | 11            | 12             | table
        s       | a      | 1          | q            | 2           | -              | 1000      | 20            | 30            | 40             | table
        """,
        ordered=True,
        ref_emitter_contents=CONTENTS,
        ref_typical_emitters=TYPICAL,
        ref_volume_rules=RULES,
        emitters="""
        firm_id | job_id | emitter_no | emitter_kind | height_mm | length_mm | floor_level | cold_at_survey
        s       | a      | 1          | q            | 300       | 1000      | 2           | -
        n       | b      | 3          | -            | 500       | 1500      | 2           | true
        n       | b      | 4          | p            | 700       | 1000      | -           | -
        n       | b      | 2          | coil         | 500       | 3000      | -           | -
        n       | b      | 1          | q            | 450       | 1000      | -           | -
        n       | a      | 7          | p            | -         | 2000      | -           | -
        n       | a      | 6          | p            | 400       | -         | -           | -
        n       | a      | 5          | p            | 900       | 1000      | 1           | true
        n       | a      | 4          | p            | 200       | 1000      | 1           | true
        n       | a      | 3          | p            | 500       | 500       | -           | -
        n       | a      | 2          | p            | 550       | 1000      | 1           | false
        n       | a      | 1          | p            | 400       | 2000      | 0           | true
        """,
    )


COUNTED = """
firm_id | job_id | emitter_count_at_survey | panel_11_count | panel_21_count | panel_22_count | towel_rail_count | column_count | underfloor_loop_count
n       | a      | 12                      | 1              | 2              | -              | 0                | 3            | 4
s       | a      | -                       | -              | -              | 5              | -                | -            | 1
n       | b      | 2                       | 3              | -              | -              | -                | -            | -
n       | c      | 4                       | -              | -              | -              | -                | -            | -
n       | d      | -                       | -              | -              | -              | -                | -            | -
n       | e      | 0                       | 0              | -              | -              | 2                | -            | -
"""
KINDS = """
emitter_kind    | height_mm | content_low_l_per_m | content_mid_l_per_m | content_high_l_per_m
panel_11        | 500       | 1                   | 2                   | 4
panel_21        | 500       | 10                  | 20                  | 40
panel_22        | 500       | 100                 | 200                 | 400
towel_rail      | 500       | 0.5                 | 0.6                 | 0.7
column          | 500       | 1000                | 2000                | 4000
underfloor_loop | 500       | 0.1                 | 0.2                 | 0.3
"""
SIZES = """
emitter_kind    | height_mm | length_mm | uses_logged_size
panel_11        | 500       | 1000      | true
panel_21        | 500       | 1000      | true
panel_22        | 500       | 2000      | true
towel_rail      | 500       | 1000      | true
column          | 500       | 1000      | true
underfloor_loop | 500       | 10000     | false
"""
CONTENTS_FIRST = "features/emitter_contents"


def test_counted_emitters_hold_what_their_kinds_hold_in_typical_size_and_the_rest_what_any_holds() -> None:
    """n a: 1 + 2·10 + 3·1000 + 4·1 + 2 of no kind at 6: 3037; n b names more than it counts; n c names none; n d counts
    nothing; a row of another job's emitters in another size is passed by."""
    check(
        "features/counted_emitters",
        first=(CONTENTS_FIRST,),
        expected="""
        firm_id | job_id | emitter_count | named_count | panels | loops | low_l | mid_l | high_l
        n       | a      | 12            | 10          | 3      | 4     | 3037  | 6064  | 12114
        s       | a      | 6             | 6           | 5      | 1     | 1001  | 2002  | 4003
        n       | b      | 3             | 3           | 3      | 0     | 3     | 6     | 12
        n       | c      | 4             | -           | 0      | 0     | 24    | 28    | 36
        n       | e      | 2             | 2           | 0      | 0     | 1     | 1.2   | 1.4
        """,
        jobs=COUNTED,
        ref_emitter_contents=KINDS,
        ref_typical_emitters=SIZES,
        ref_volume_rules=RULES,
        emitters="""
        firm_id | job_id | emitter_no | emitter_kind | height_mm | length_mm
        n       | z      | 1          | panel_11     | 500       | 3000
        n       | z      | 2          | panel_11     | -         | 3000
        n       | z      | 3          | panel_11     | 500       | -
        n       | z      | 4          | -            | 500       | 700
        """,
    )


def test_a_listed_emitter_of_unknown_kind_holds_the_mean_of_those_counted() -> None:
    """n a counts 1 + 2 panels: 1 + 2·10 = 21 L, 7 each; one that was named since is what it is; n b counted none."""
    check(
        "features/ftr_emitter",
        first=(CONTENTS_FIRST, "features/counted_emitters"),
        expected="""
        firm_id | job_id | emitter_no | content_low_l | content_mid_l | content_high_l | content_method
        n       | a      | 1          | 7             | 14            | 28             | mean_of_counted
        n       | a      | 2          | 10            | 20            | 40             | table_typical_size
        n       | b      | 1          | 6             | 7             | 9              | typical_emitter
        s       | a      | 1          | 100           | 200           | 400            | mean_of_counted
        """,
        ordered=True,
        jobs="""
        firm_id | job_id | panel_11_count | panel_21_count | panel_22_count
        n       | a      | 1              | 2              | -
        s       | a      | -              | -              | 2
        n       | b      | -              | -              | -
        """,
        ref_emitter_contents=KINDS,
        ref_typical_emitters=SIZES.replace("panel_22        | 500       | 2000", "panel_22        | 500       | 1000"),
        ref_volume_rules=RULES,
        emitters="""
        firm_id | job_id | emitter_no | emitter_kind
        s       | a      | 1          | -
        n       | b      | 1          | -
        n       | a      | 2          | panel_21
        n       | a      | 1          | -
        """,
    )


def test_the_list_of_emitters_goes_before_their_count() -> None:
    check(
        "features/emitter_sums",
        """
        firm_id | job_id | emitter_count | low_l | mid_l | high_l
        n       | a      | 2             | 3     | 5     | 9
        s       | a      | 7             | 40    | 50    | 60
        n       | b      | 8             | 41    | 51    | 61
        """,
        counted_emitters="""
        firm_id | job_id | emitter_count | low_l | mid_l | high_l
        n       | a      | 9             | 10    | 20    | 30
        s       | a      | 7             | 40    | 50    | 60
        n       | b      | 8             | 41    | 51    | 61
        """,
        ftr_emitter="""
        firm_id | job_id | emitter_no | content_low_l | content_mid_l | content_high_l
        n       | a      | 1          | 1             | 2             | 4
        n       | a      | 2          | 2             | 3             | 5
        """,
    )


def litres(bore_mm: float, *lengths_m: float) -> str:
    """pi / 4 x bore squared x length, each run to a whole microlitre: what a cylinder holds."""
    return f"{sum(round(math.pi / 4 * (bore_mm / 1000) ** 2 * length * 1e9) for length in lengths_m) / 1e6:.9g}"


def test_a_pipe_takes_the_bore_of_the_tube_nearest_in_size_scaled_to_its_own() -> None:
    """17 mm of steel is nearest to 15, as is 18 at the tie with 21; no material is copper; two runs add up."""
    check(
        "features/ftr_pipe_volume",
        f"""
        firm_id | job_id | pipe_low_l | pipe_mid_l | pipe_high_l
        n       | a      | {litres(20, 2, 3)} | {litres(21, 2, 3)} | {litres(22, 2, 3)}
        s       | a      | {litres(10 * 17 / 15, 2)} | {litres(11 * 17 / 15, 2)} | {litres(12 * 17 / 15, 2)}
        n       | b      | {litres(10 * 18 / 15, 2)} | {litres(11 * 18 / 15, 2)} | {litres(12 * 18 / 15, 2)}
        n       | c      | {litres(13 * 18.5 / 15, 2)} | {litres(14 * 18.5 / 15, 2)} | {litres(14.5 * 18.5 / 15, 2)}
        s       | c      | {litres(6 * 12 / 10, 2)} | {litres(7 * 12 / 10, 2)} | {litres(8 * 12 / 10, 2)}
        """,
        ref_tube_bores="""
        material | outside_mm | bore_low_mm | bore_mid_mm | bore_high_mm
        copper   | 22         | 20          | 21          | 22
        copper   | 15         | 13          | 14          | 14.5
        steel    | 21         | 16          | 17          | 18
        steel    | 15         | 10          | 11          | 12
        plastic  | 10         | 6           | 7           | 8
        plastic  | 14         | 9           | 9.5         | 10
        """,
        pipe_runs="""
        firm_id | job_id | run_no | material | outside_mm | length_m
        n       | a      | 1      | copper   | 22         | 2
        n       | a      | 2      | -        | 22         | 3
        s       | a      | 1      | steel    | 17         | 2
        n       | b      | 1      | steel    | 18         | 2
        n       | c      | 1      | copper   | 18.5       | 2
        s       | c      | 1      | plastic  | 12         | 2
        """,
    )


JOBS = """
firm_id | job_id | pipe_layout | boiler_kind | boiler_output_kw
s       | a      | one_pipe    | heat_only   | 10
n       | f      | one_pipe    | other       | -
n       | e      | one_pipe    | system      | 10
n       | d      | two_pipe    | heat_only   | 10
n       | c      | two_pipe    | combi       | 10
n       | b      | two_pipe    | combi       | 10
n       | a      | two_pipe    | combi       | 10
"""
VOLUMES = """
firm_id | job_id | emitter_count | emitter_volume_low_l | emitter_volume_mid_l | emitter_volume_high_l | pipe_volume_low_l | pipe_volume_mid_l | pipe_volume_high_l | source_volume_low_l | source_volume_mid_l | source_volume_high_l | system_volume_low_l | system_volume_l | system_volume_high_l | system_volume_method
n       | a      | 2             | 11                   | 13                   | 17                    | 30                | 31                | 33                 | 10                  | 11                  | 13                   | 51                  | 55              | 63                   | emitters_and_pipe_runs
n       | b      | 1             | 1                    | 2                    | 4                     | 1                 | 2                 | 4                  | 10                  | 11                  | 13                   | 12                  | 15              | 21                   | emitters_and_pipe_rule
n       | c      | 0             | -                    | -                    | -                     | -                 | -                 | -                  | 10                  | 11                  | 13                   | 50                  | 60              | 80                   | boiler_output_rule
n       | d      | 0             | -                    | -                    | -                     | 40                | 41                | 43                 | 20                  | 23                  | 27                   | 90                  | 120             | 150                  | boiler_output_rule
n       | e      | 0             | -                    | -                    | -                     | -                 | -                 | -                  | 20                  | 23                  | 27                   | 300                 | 400             | 500                  | boiler_output_rule
n       | f      | 0             | -                    | -                    | -                     | -                 | -                 | -                  | 20                  | 23                  | 27                   | 100                 | 120             | 150                  | typical_system
s       | a      | 3             | 111                  | 222                  | 444                   | 9                 | 15                | 24                 | 20                  | 23                  | 27                   | 140                 | 260             | 495                  | emitters_and_pipe_rule
"""


def test_the_volume_of_a_system_is_its_parts_added_end_to_end_or_the_stated_rule() -> None:
    """n a by its runs, n b and s a by litres an emitter, n c by the combi's litres a kW, n d by its layout's, n e by any."""
    check(
        "features/ftr_volume",
        VOLUMES,
        first=("features/emitter_sums",),
        ordered=True,
        jobs=JOBS,
        ref_volume_rules=RULES,
        ftr_pipe_volume="""
        firm_id | job_id | pipe_low_l | pipe_mid_l | pipe_high_l
        n       | a      | 30         | 31         | 33
        n       | d      | 40         | 41         | 43
        s       | b      | 70         | 71         | 73
        """,
        ftr_emitter="""
        firm_id | job_id | emitter_no | content_low_l | content_mid_l | content_high_l
        n       | a      | 1          | 1             | 2             | 4
        n       | a      | 2          | 10            | 11            | 13
        n       | b      | 1          | 1             | 2             | 4
        s       | a      | 1          | 1             | 2             | 4
        s       | a      | 2          | 10            | 20            | 40
        s       | a      | 3          | 100           | 200           | 400
        """,
    )


def test_a_buffer_is_added_as_logged_and_ranges_where_a_heat_pump_names_none() -> None:
    """8 kW at 12 / 21 / 29 L/kW are 96 / 168 / 232; n a has 100 L of buffer by name, n b 5 to 120, n c none by name; a
    combi (n d: 40 / 48 / 64 by its kilowatts) has none unless it is logged (n e)."""
    check(
        "features/ftr_volume",
        """
        firm_id | job_id | source_volume_low_l | source_volume_mid_l | source_volume_high_l | system_volume_low_l | system_volume_l | system_volume_high_l
        n       | a      | 101                 | 103                 | 108                  | 196                 | 268             | 332
        n       | b      | 6                   | 33                  | 128                  | 101                 | 198             | 352
        n       | c      | 1                   | 3                   | 8                    | 96                  | 168             | 232
        n       | d      | 10                  | 11                  | 13                   | 40                  | 48              | 64
        n       | e      | 60                  | 61                  | 63                   | 90                  | 98              | 114
        """,
        jobs="""
        firm_id | job_id | pipe_layout | boiler_kind | boiler_output_kw | buffer_l
        n       | a      | two_pipe    | heat_pump   | 8                | 100
        n       | b      | two_pipe    | heat_pump   | 8                | -
        n       | c      | two_pipe    | heat_pump   | 8                | 0
        n       | d      | two_pipe    | combi       | 8                | -
        n       | e      | two_pipe    | combi       | 8                | 50
        """,
        ref_volume_rules=RULES.rstrip()
        + """
source_content    | heat_pump  | 1   | 3   | 8
buffer_not_logged | heat_pump  | 5   | 30  | 120
litres_per_kw     | heat_pump  | 12  | 21  | 29
""",
    )
