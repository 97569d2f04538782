"""`sludgebook map`: the proposal on the screen or in a file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dashboard.cli.map import map_command
from pipeline.contract.findings import BadInput
from pipeline.mapping.mapping_file import read_mapping

DATA = Path(__file__).parents[2] / "data"
WEIGHTS = DATA / "foreign" / "us_firm" / "debris weights.tsv"


def test_the_proposal_is_written_to_a_file_that_can_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    map_command([WEIGHTS], tmp_path / "m.toml")

    (table,) = read_mapping(tmp_path / "m.toml").tables
    assert (table.source, table.table, len(table.columns)) == ("debris weights", "catches", 6)
    assert "6 columns of 1 table " in capsys.readouterr().out


def test_the_proposal_is_printed_where_no_file_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    map_command([DATA / "foreign" / "wide_firm" / "Flushes.csv"], None)

    shown = capsys.readouterr().out
    assert shown.count("\n# ask: ") == 8
    assert "Dana" not in shown


def test_a_file_that_is_there_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "m.toml").write_text("mine")
    with pytest.raises(BadInput, match="not overwritten"):
        map_command([WEIGHTS], tmp_path / "m.toml")
    assert (tmp_path / "m.toml").read_text() == "mine"


def test_logs_with_the_contracts_headings_need_no_mapping(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    map_command([DATA / "hand_written"], tmp_path / "m.toml")

    assert "no mapping is needed" in capsys.readouterr().out
    assert not (tmp_path / "m.toml").exists()


def test_a_folder_without_tables_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no table here"):
        map_command([tmp_path], None)


def test_what_is_not_taken_is_said_with_its_first_values_in_words_and_as_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = DATA / "foreign" / "comma_firm" / "Aufträge.csv"
    map_command([sheet], tmp_path / "m.toml")
    said = capsys.readouterr().out
    map_command([sheet], None, as_json=True)
    told = json.loads(capsys.readouterr().out)

    assert "asked: 'ph' (6,8, 7,25, 7): more than one column fits it; may be survey_ph or final_ph" in said
    found = {each["heading"]: each for each in told["not_taken"]}
    assert (found["ph"]["samples"], found["ph"]["may_be"]) == (["6,8", "7,25", "7"], ["survey_ph", "final_ph"])
    assert found["kundenname"]["samples"] == []
    assert f"Not taken: {len(found)} headings" in said
