"""The page "Intake": every row is accounted for, and a fault is shown at its place."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import polars as pl
import pytest

from dashboard.app_parts.intake_parts import as_xlsx, as_zip

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]

JOBS = (
    b"job_id,system_type,visit_date,flush_started_at,flush_ended_at\n"
    b"A1,sealed,2024-03-04,2024-03-04T09:00,2024-03-04T12:00\n"
    b"A2,wood_stove,2024-03-05,2024-03-05T09:00,2024-03-05T12:00\n"
)


def hand_in(app: AppTest, *files: tuple[str, bytes]) -> AppTest:
    app.file_uploader(key="intake_files").set_value([(name, content, "text/csv") for name, content in files]).run()
    return app.button(key="intake_load").click().run()


def test_a_bad_row_is_shown_with_file_line_column_and_reason(open_page: Open, words: Words, tmp_path: Path) -> None:
    app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.csv", JOBS))

    assert not app.exception
    assert "1 of 2 rows accepted, 1 rejected" in words(app)
    rejects = next(d.value for d in app.dataframe if "Reason" in d.value)
    (fault,) = rejects.to_dict("records")
    place = [fault[name] for name in ("File", "Line", "Column", "Value")]
    assert place == ["jobs.csv", 3, "system_type", "wood_stove"]


def test_handing_the_same_file_in_again_changes_nothing(open_page: Open, words: Words, tmp_path: Path) -> None:
    app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.csv", JOBS))

    app.button(key="intake_load").click().run()

    assert "These files were in the book already, so nothing changed." in words(app)


def test_a_file_that_is_no_table_is_refused_in_one_sentence(open_page: Open, words: Words, tmp_path: Path) -> None:
    app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.xlsx", b"this is no workbook"))

    assert not app.exception
    assert "Nothing was received; the book is as it was." in words(app)


def test_a_name_that_climbs_out_of_its_folder_is_cut_to_its_last_part(
    open_page: Open, words: Words, tmp_path: Path
) -> None:
    app = hand_in(open_page("intake", tmp_path / "book"), ("../../jobs.csv", JOBS))

    assert "1 of 2 rows accepted" in words(app)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["book"]


def test_rejects_can_be_taken_away_as_a_workbook() -> None:
    rows = pd.DataFrame({"File": ["jobs.csv"], "Line": [3], "Reason": ["not one of sealed, open_vented"]})

    back = pl.read_excel(io.BytesIO(as_xlsx(rows)), engine="calamine")

    assert back.to_dicts() == rows.to_dict("records")


def test_the_zip_holds_only_the_csv_files() -> None:
    archive = zipfile.ZipFile(io.BytesIO(as_zip({"jobs.csv": b"job_id\n", "job_log.xlsx": b"x"})))

    assert archive.namelist() == ["jobs.csv"]
    assert archive.read("jobs.csv") == b"job_id\n"


def test_templates_hold_every_table(open_page: Open, tmp_path: Path) -> None:
    from dashboard import data
    from pipeline.contract import JOB_LOG

    open_page("intake", tmp_path / "book")

    assert {f"{name}.csv" for name in JOB_LOG} <= set(data.templates())


@pytest.mark.parametrize("name", ["report.pdf", "notes.docx"])
def test_other_kinds_of_file_are_not_offered(open_page: Open, tmp_path: Path, name: str) -> None:
    app = open_page("intake", tmp_path / "book")

    assert Path(name).suffix not in app.file_uploader(key="intake_files").proto.type
