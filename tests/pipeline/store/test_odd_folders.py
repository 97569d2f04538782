"""A book in a folder whose name other programs would take for a pattern or for a column works like any other."""

from __future__ import annotations

import shutil
from pathlib import Path

import polars as pl
import pytest

from pipeline.intake.history import history
from pipeline.intake.load import load
from pipeline.intake.reject_workbook import write_reject_workbook
from pipeline.store.book import Book, read_table
from pipeline.store.checked_files import every_file, read_checked, scan_checked
from pipeline.verify.verify_book import verify
from tests.pipeline.conftest import HAND_WRITTEN, neighbours_log

ODD = ("year=2025", "books [1]", "50 % 'own' ümlaut, {a,b}")


def test_a_book_in_an_odd_folder_is_loaded_twice_verified_and_asked(
    tmp_path: Path, hand_report: tuple[Book, object]
) -> None:
    """Two batches, so that the second build is renewed from the first, and rejects to mend; as in a plain folder."""
    folder = tmp_path.joinpath(*ODD)
    folder.mkdir(parents=True)
    shutil.copytree(HAND_WRITTEN, folder / "logs [2025]")
    plain, odd = hand_report[0], Book(folder / "book")
    for logs in (neighbours_log(folder / "neighbours"), folder / "logs [2025]"):
        load([logs], odd)

    for table in ("jobs", "readings", "ftr_catch_curve", "ledger"):
        assert read_table(odd.current(), table).equals(read_table(plain.current(), table))
    assert verify(odd).clean
    assert [v.values for v in history(odd, "own", "H-01")] == [v.values for v in history(plain, "own", "H-01")]
    assert write_reject_workbook(odd, folder / "out.xlsx") == 5


@pytest.mark.parametrize("name", ["a", "[a]", "a]", "[!a]", "year=2025"])
def test_files_of_a_folder_are_those_of_that_folder_alone(name: str, tmp_path: Path) -> None:
    for place, folder in enumerate(("a", "b", "!", "[a]", "a]", "[!a]", "year=2025")):
        (tmp_path / folder).mkdir()
        for number in (1, 2):
            pl.DataFrame({"folder": [folder], "x": [10 * place + number]}).write_parquet(
                tmp_path / folder / f"00{number}-1.parquet"
            )

    found = scan_checked([tmp_path / name, tmp_path / "b"]).collect()
    assert found["folder"].to_list() == [name, name, "b", "b"]
    assert found.columns == ["folder", "x"]
    assert scan_checked([tmp_path / name], "002-*.parquet").collect()["x"].to_list() == [found["x"][1]]
    assert read_checked(tmp_path / name / "001-1.parquet").equals(found[:1])
    assert every_file(tmp_path / name).endswith("*.parquet")
