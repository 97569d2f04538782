"""Settings of the firm: one table of keys makes the file, the checks and the documents."""

from __future__ import annotations

import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from pipeline.contract.findings import SettingsError
from pipeline.contract.firm import SETTINGS, Firm, default_text, read_firm, reference_table, write_default_firm


def test_the_default_file_reads_back_as_the_defaults(tmp_path: Path) -> None:
    path = tmp_path / "book" / "firm.toml"

    write_default_firm(path)

    assert read_firm(path) == Firm()
    assert set(tomllib.loads(default_text())) == {field.name for field in fields(Firm)}


def test_an_existing_file_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "firm.toml"
    path.write_text("crew_size = 2\n")

    with pytest.raises(SettingsError, match="left as it is"):
        write_default_firm(path)

    assert read_firm(path).crew_size == 2


def test_an_empty_file_is_the_default_firm(tmp_path: Path) -> None:
    path = tmp_path / "firm.toml"
    path.write_text("")

    assert read_firm(path) == Firm()


def test_every_key_states_unit_or_is_text_and_its_default_is_allowed() -> None:
    for setting in SETTINGS:
        assert setting.meaning
        assert setting.unit or setting.kind in ("text", "yes or no")
        assert setting.low is not None
        assert setting.high is not None
        size = len(setting.default) if isinstance(setting.default, str) else setting.default
        assert setting.low <= size <= setting.high
        assert f"`{setting.name}`" in reference_table()


def test_all_faults_are_named_at_once_with_the_file_and_the_nearest_key(tmp_path: Path) -> None:
    path = tmp_path / "firm.toml"
    lines = ['decimal_sign = "comma"', 'thousands_sign = "comma"', 'symbol_place = "above"']
    lines += ["count_callbacks = 1", "hourly_rte = 40", "wet_dry_ratio = 3.1", 'crew_size = "two"', "tax_share = true"]
    path.write_text("\n".join([*lines, "day_minutes = 1.5"]))

    with pytest.raises(SettingsError) as caught:
        read_firm(path)

    sentence = str(caught.value)
    assert str(path) in sentence
    assert "`hourly_rte` is no setting (did you mean `hourly_rate`?)" in sentence
    assert "`wet_dry_ratio` = 3.1 is outside 1.3..2.7" in sentence
    assert "`crew_size` must be a whole number" in sentence
    assert "`count_callbacks` must be true or false, not 1" in sentence
    assert '`symbol_place` = "above" must be auto or before or after' in sentence
    assert '`decimal_sign` and `thousands_sign` are both "comma"' in sentence
    assert "`tax_share` must be a number, not true" in sentence
    assert "`day_minutes` must be a whole number, not 1.5" in sentence


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"currency = ", "not valid TOML"),
        (b"name = '\xff'", "not UTF-8"),
        (b"hourly_rate = nan", "outside"),
        (b"zzz = 1", "the keys are name, currency"),
        (b"[labour]\nhourly_rate = 3", "`labour` is no setting"),
        (b"name = ''", "1..60 characters"),
    ],
)
def test_a_bad_file_gets_one_sentence(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "firm.toml"
    path.write_bytes(content)

    with pytest.raises(SettingsError) as caught:
        read_firm(path)

    assert said in str(caught.value)


def test_a_missing_file_and_a_folder_get_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="is not there"):
        read_firm(tmp_path / "firm.toml")
    with pytest.raises(SettingsError, match="is a folder and no file"):
        read_firm(tmp_path)


def test_whole_numbers_are_taken_where_a_number_is_wanted(tmp_path: Path) -> None:
    path = tmp_path / "firm.toml"
    path.write_text("hourly_rate = 40\n")

    assert read_firm(path).hourly_rate == 40.0
    assert isinstance(read_firm(path).hourly_rate, float)


def test_a_size_of_paper_is_one_of_two_words(tmp_path: Path) -> None:
    path = tmp_path / "firm.toml"
    path.write_text('paper = "A5"\nquote_valid_days = 0\n', encoding="utf-8")

    with pytest.raises(SettingsError) as caught:
        read_firm(path)

    assert '`paper` = "A5" must be A4 or Letter' in str(caught.value)
    assert "`quote_valid_days`" in str(caught.value)
