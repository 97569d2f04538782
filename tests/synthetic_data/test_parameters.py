"""Numbers are held to their ranges, and the simulator's document lists every one."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

import synthetic_data
from synthetic_data.parameters import FlushParameters, LogParameters, Parameters, parameter_rows
from synthetic_data.scenarios import SCENARIOS

README = Path(synthetic_data.__file__).with_name("README.md").read_text(encoding="utf-8")


def test_a_number_out_of_range_is_named():
    with pytest.raises(ValueError, match=r"magnet_efficiency = 1.5 is outside 0\.\.1"):
        FlushParameters(magnet_efficiency=1.5)


def test_all_faults_are_named_at_once():
    with pytest.raises(ValueError, match=r"gap_factor = -1 .*; reading_skip_share = 2 "):
        LogParameters(gap_factor=-1, reading_skip_share=2)


def test_dates_must_follow_each_other():
    with pytest.raises(ValueError, match="first_visit < last_visit"):
        replace(Parameters(), last_visit=date(2020, 1, 1))


def test_every_number_has_meaning_and_source_and_a_unit():
    for _, name, _, unit, meaning, source in parameter_rows():
        assert unit, name
        assert meaning, name
        assert source, name


@pytest.mark.parametrize("row", parameter_rows(), ids=lambda row: row[1])
def test_the_document_lists_every_number_as_it_is(row):
    group, name, value, unit, meaning, source = row

    assert f"| {group} | {name} | {value:g} | {unit} | {meaning} | {source} |" in README


def test_the_document_lists_no_number_that_is_gone():
    listed = [line.split(" | ")[1] for line in README.splitlines() if line.startswith("| ") and line.count(" | ") == 5]

    assert sorted(listed[1:]) == sorted(row[1] for row in parameter_rows())


@pytest.mark.parametrize("scenario", SCENARIOS.values(), ids=lambda scenario: scenario.name)
def test_the_document_lists_every_scenario(scenario):
    first, last = scenario.firm_ids[0], scenario.firm_ids[-1]
    firms = first if scenario.firms == 1 else f"{first} … {last}"
    row = f"| {scenario.name} | {scenario.meaning} | {scenario.default_jobs} | {firms} |"

    assert row in README
    assert SCENARIOS[scenario.name] is scenario
