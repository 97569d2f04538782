"""What values say against a column, at each edge: shares, ranges, usual values, hours, words, ids that repeat."""

from __future__ import annotations

import polars as pl
import pytest

from pipeline.contract import JOB_LOG
from pipeline.mapping.heading_values import against, repeats
from pipeline.mapping.value_shapes import MAX_WORDS, shape_of

NONE: tuple[str, ...] = ()


def said(table: str, name: str, *cells: str, units: tuple[str, ...] = NONE) -> tuple[str, bool]:
    found = against(shape_of("x", pl.Series(cells, dtype=pl.String)), JOB_LOG[table].column(name), units)
    return ("", False) if found is None else (found.clause, found.is_hopeless)


@pytest.mark.parametrize(
    ("table", "name", "cells", "clause", "is_hopeless"),
    [
        ("readings", "ph", ["7", "7.1", "7.2", "8", "x"], "", False),  # four of five are numbers
        ("readings", "ph", ["7", "7.1", "8", "x"], "its values are no numbers", True),
        ("catches", "catch_no", ["1", "2.5"], "not all of its values are whole, but catch_no is counted", False),
        ("readings", "ph", ["0", "7", "7.5", "8", "14"], "", False),
        (
            "readings",
            "ph",
            ["7", "7.5", "8", "14.1"],
            "its values reach from 7 to 14.1, outside the 0..14 pH that ph can have",
            False,
        ),
        (
            "readings",
            "ph",
            ["-0.1", "7", "7.5", "8"],
            "its values reach from -0.1 to 8, outside the 0..14 pH that ph can have",
            False,
        ),
        ("readings", "ph", ["6"], "", False),
        ("readings", "ph", ["11"], "", False),
        ("readings", "ph", ["5.9"], "most of its values are 5.9; usual for ph are 6 to 11 pH", False),
        ("readings", "ph", ["11.1", "11.2"], "most of its values are 11.1 to 11.2; usual for ph are 6 to 11 pH", False),
        ("callbacks", "called_back_on", ["13/3/2025"] * 4 + ["x"], "", False),
        ("callbacks", "called_back_on", ["13/3/2025"] * 3 + ["x"], "its values are no days", True),
        ("catches", "caught_at", ["5:00", "5:59"], "", False),
        (
            "catches",
            "caught_at",
            ["4:59", "4:00"],
            "most of its values are before 5 o'clock, as if they were lengths of time",
            False,
        ),
        ("catches", "caught_at", ["9:00"] * 3 + ["x"], "its values are no times of day", True),
        ("catches", "caught_at", ["9:00"] * 4 + ["x"], "", False),
        ("catches", "trap", ["magnet", "sieve box"], "", False),  # half of its words are known
        ("jobs", "system_type", ["sealed", "12", "13"], "most of its words are none of open_vented, sealed", False),
        ("jobs", "system_type", ["1", "2", "3"], "most of its words are none of open_vented, sealed", True),
        ("jobs", "job_id", ["101", "102"], "", False),
        ("jobs", "job_id", ["1.5", "2.5"], "its values are numbers and no ids", True),
        ("jobs", "firm_id", ["101", "102"], "its values are numbers and no ids", True),
        ("jobs", "job_id", ["13/3/2025"], "its values are days or times", True),
        ("jobs", "engineer_id", ["7", "8"], "", False),
        ("jobs", "engineer_id", ["2", "6"], "its values may be a number of people", False),
        ("catches", "note", ["12", "13"], "its values are numbers", True),
        ("catches", "note", ["12", "grey", "black"], "", False),
        ("jobs", "postcode_district", ["12", "13"], "its values are no postcode districts", False),
    ],
)
def test_what_values_say_against_a_column(
    table: str, name: str, cells: list[str], clause: str, is_hopeless: bool
) -> None:
    assert said(table, name, *cells) == (clause, is_hopeless)


def test_too_many_words_are_no_choices() -> None:
    words = [f"w{n}" for n in range(MAX_WORDS + 1)]

    assert said("catches", "trap", *words) == ("it holds too many different words", True)
    assert said("catches", "trap", *words[1:])[0].startswith("most of its words are none of magnet")


def test_values_are_judged_in_the_unit_of_the_heading_and_in_any_where_it_names_none() -> None:
    """2 to 3 is no usual mass in grams, in kilograms it is; 25,000 is outside 0..20,000 g."""
    assert said("catches", "mass_g", "2", "3", units=("kg",)) == ("", False)
    assert said("catches", "mass_g", "2", "3") == ("", False)
    assert said("catches", "mass_g", "2", "3", units=("g",))[0] == (
        "most of its values are 2 to 3; usual for mass_g are 5 to 3000 g"
    )
    assert said("catches", "mass_g", "25000", units=("g",))[0].startswith("its values reach from 25000 to 25000, out")
    assert said("readings", "flow_temp_c", "212", units=("°F",)) == (
        "most of its values are 212; usual for flow_temp_c are 15 to 90 °C",
        False,
    )
    assert said("readings", "flow_temp_c", "194", units=("°F",)) == ("", False)  # 90 °C


def test_job_numbers_that_repeat_speak_against_a_list_of_jobs_only() -> None:
    twice = shape_of("x", pl.Series(["a", "a", "b", "a"]))
    once = shape_of("x", pl.Series(["a", "b"]))
    column = JOB_LOG["jobs"].column("job_id")

    found = repeats(twice, column, "jobs")
    assert found is not None
    assert found.clause == "it has 2 repeated values, but a job has one row"
    assert repeats(once, column, "jobs") is None
    assert repeats(twice, column, "catches") is None
    assert repeats(twice, JOB_LOG["jobs"].column("engineer_id"), "jobs") is None
