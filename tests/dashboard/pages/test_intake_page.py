"""The page "Intake": every row is accounted for, and a fault is shown at its place."""

from __future__ import annotations

import io
import shutil
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import polars as pl
import pytest

from dashboard import data
from dashboard.app_parts.intake.intake_parts import KINDS, as_zip
from pipeline.store.book import Book
from tests.dashboard.conftest import opened

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]

FOREIGN = Path(__file__).parents[2] / "data" / "foreign"
JOBS = (
    b"job_id,system_type,visit_date,flush_started_at,flush_ended_at\n"
    b"A1,sealed,2024-03-04,2024-03-04T09:00,2024-03-04T12:00\n"
    b"A2,wood_stove,2024-03-05,2024-03-05T09:00,2024-03-05T12:00\n"
)


def hand_in(app: AppTest, *files: tuple[str, bytes]) -> AppTest:
    app.file_uploader(key="intake_files").set_value([(name, content, "text/csv") for name, content in files]).run()
    return app.button(key="intake_load").click().run()


Page = tuple["AppTest", Path]
"""A page as it stood after a load, and its book: for tests that only read."""


def page_of(folder: Path, *files: tuple[str, bytes]) -> Iterator[Page]:
    with pytest.MonkeyPatch.context() as patch:
        yield hand_in(opened(patch, "intake", folder / "book"), *files), folder / "book"


@pytest.fixture(scope="module")
def two_jobs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """Two jobs handed in, of which one is rejected."""
    yield from page_of(tmp_path_factory.mktemp("two_jobs"), ("jobs.csv", JOBS))


def test_a_bad_row_is_shown_with_file_line_column_and_reason(two_jobs: Page, words: Words) -> None:
    app = two_jobs[0]

    assert not app.exception
    assert "1 of 2 rows accepted, 1 rejected" in words(app)
    rejects = next(d.value for d in app.dataframe if "Reason" in d.value)
    (fault,) = rejects.to_dict("records")
    place = [fault[name] for name in ("File", "Line", "Column", "Value")]
    assert place == ["jobs.csv", 3, "system_type", "wood_stove"]


def test_faults_are_counted_by_file_and_reason(open_page: Open, tmp_path: Path) -> None:
    more = JOBS + b"A3,wood_stove,2024-03-06,2024-03-06T09:00,2024-03-06T12:00\n"
    app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.csv", more))

    grounds = next(d.value for d in app.dataframe if "Faults" in d.value)
    assert grounds[["File", "Column", "Faults"]].values.tolist() == [["jobs.csv", "system_type", 2]]
    counts = next(d.value for d in app.dataframe if "Accepted" in d.value)
    assert counts[["File", "Rows", "Accepted", "Rejected"]].values.tolist() == [["jobs.csv", 3, 1, 2]]


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


def mended(workbook: bytes, was: str, now: str) -> bytes:
    """The workbook with one word replaced, as a person would."""
    sheets = pl.read_excel(io.BytesIO(workbook), sheet_id=0, infer_schema_length=0)
    out = io.BytesIO()
    with pd.ExcelWriter(out, engine="xlsxwriter") as writer:
        for name, frame in sheets.items():
            frame.to_pandas().replace(was, now).to_excel(writer, sheet_name=name, index=False)
    return out.getvalue()


def test_rejects_go_out_as_a_workbook_and_shrink_when_it_comes_back_mended(
    open_page: Open, words: Words, tmp_path: Path
) -> None:
    app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.csv", JOBS))
    assert {"intake_rejects_xlsx", "intake_rejects_csv"} <= {button.key for button in app.get("download_button")}
    assert "1 fault still keeps rows out" in words(app)
    workbook = data.reject_workbook(str(data.book().current()), None)

    hand_in(app, ("rejects.xlsx", mended(workbook, "wood_stove", "sealed")))

    assert not app.exception
    assert "1 of 1 row accepted, 0 rejected" in words(app)
    assert "The book holds 2 jobs and 0 weighings; 0 faults still keep rows out" in words(app)


def test_rejects_in_the_workbook_are_marked_with_the_reason_beside_them(
    two_jobs: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SLUDGEBOOK_BOOK", str(two_jobs[1]))

    (row,) = pl.read_excel(io.BytesIO(data.reject_workbook(str(data.book().current()), None))).to_dicts()

    assert (row["job_id"], row["system_type"]) == ("A2", "wood_stove")
    assert "not one of open_vented, sealed" in row["reason"]


def uploads_of(folder: str) -> list[tuple[str, bytes]]:
    files = sorted(path for path in (FOREIGN / folder).iterdir() if path.is_file())
    return [(path.name, path.read_bytes()) for path in files]


@pytest.fixture(scope="module")
def us_firm(tmp_path_factory: pytest.TempPathFactory, words: Words) -> Iterator[Page]:
    """A firm's files with headings of its own, after its answers to what was asked."""
    for app, book in page_of(tmp_path_factory.mktemp("us_firm"), *uploads_of("us_firm")):
        assert "Say below what your headings mean" in words(app)
        yield with_headings_told(app), book


def with_headings_told(app: AppTest) -> AppTest:
    answers = {"main bore": "inch copper US", "boiler output": "thousands ,", "machine max flow": "gal US/min"}
    for asked in (*app.radio, *app.selectbox):
        asked.set_value(next(answer for heading, answer in answers.items() if heading in asked.label))
    return next(button for button in app.button if button.label == "Use these headings").click().run()


def test_headings_of_ones_own_are_proposed_asked_about_loaded_and_kept(us_firm: Page, words: Words) -> None:
    app, book = us_firm

    assert not app.exception
    assert "9 of 9 rows accepted, 0 rejected" in words(app)
    assert "The book keeps these headings" in words(app)
    jobs = data.table(str(Book(book).current()), "jobs").set_index("job_id")
    expected = pd.read_csv(FOREIGN / "us_firm" / "expected" / "jobs.csv").set_index("job_id")
    for column in ("main_bore_mm", "boiler_output_kw", "machine_max_flow_l_min", "hose_length_m"):
        assert jobs.loc[expected.index, column].tolist() == pytest.approx(expected[column].tolist(), rel=1e-6)


def test_the_next_file_with_headings_the_book_knows_is_read_by_itself(
    us_firm: Page, open_page: Open, words: Words, tmp_path: Path
) -> None:
    shutil.copytree(us_firm[1], tmp_path / "book")
    (weights,) = (each for each in uploads_of("us_firm") if each[0] == "debris weights.tsv")

    app = hand_in(open_page("intake", tmp_path / "book"), (weights[0], weights[1].replace(b"12 oz", b"13 oz")))

    assert "of 4 rows accepted, 0 rejected" in words(app)
    assert "headings mean" not in words(app)


def test_a_question_left_open_is_refused_and_stays_on_the_page(open_page: Open, words: Words, tmp_path: Path) -> None:
    app = hand_in(open_page("intake", tmp_path / "book"), *uploads_of("wide_firm"))
    assert "Column 'customer' of Flushes.csv looks private (people's names) and is never loaded." in words(app)
    assert [radio.value for radio in app.radio] == [None] * len(app.radio)

    next(button for button in app.button if button.label == "Use these headings").click().run()

    assert not app.exception
    assert "open" in words(app)
    assert "Nothing was received; the book is as it was." in words(app)
    assert any("day or the month first" in radio.label for radio in app.radio)


def test_a_table_left_aside_is_proposed_beside_those_that_loaded(open_page: Open, words: Words, tmp_path: Path) -> None:
    (weights,) = (each for each in uploads_of("us_firm") if each[0] == "debris weights.tsv")

    app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.csv", JOBS), weights)

    assert "1 of 2 rows accepted" in words(app)
    assert "What do your headings mean?" in words(app)
    assert "debris weights.tsv → catches" in words(app)


def test_two_files_of_one_name_are_both_read(open_page: Open, words: Words, tmp_path: Path) -> None:
    other = JOBS.replace(b"A1", b"B1").replace(b"A2", b"B2")

    app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.csv", JOBS), ("jobs.csv", other))

    assert "2 of 4 rows accepted, 2 rejected" in words(app)


def test_the_zip_holds_only_the_csv_files() -> None:
    archive = zipfile.ZipFile(io.BytesIO(as_zip({"jobs.csv": b"job_id\n", "job_log.xlsx": b"x"})))

    assert archive.namelist() == ["jobs.csv"]
    assert archive.read("jobs.csv") == b"job_id\n"


def test_templates_hold_every_table(open_page: Open, tmp_path: Path) -> None:
    from pipeline.contract import JOB_LOG

    open_page("intake", tmp_path / "book")

    assert {f"{name}.csv" for name in JOB_LOG} <= set(data.templates())


@pytest.mark.parametrize("name", ["report.pdf", "notes.docx"])
def test_other_kinds_of_file_are_not_offered(open_page: Open, tmp_path: Path, name: str) -> None:
    app = open_page("intake", tmp_path / "book")

    assert Path(name).suffix not in app.file_uploader(key="intake_files").proto.type


def test_every_kind_that_the_book_reads_is_offered() -> None:
    from pipeline.readers.files import OLD_WORKBOOKS, SUFFIXES

    assert {f".{kind}" for kind in KINDS} == {*SUFFIXES, *OLD_WORKBOOKS}


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("jobs.csv", b"job_id,visit_date\nA1,2024-03-04\n", "has no column 'system_type'"),
        ("holiday.csv", b"where,when\nsea,July\n", "holiday.csv is no table of the job log"),
        ("jobs.xls", b"\xd0\xcf\x11\xe0", "open it in its program and save it as XLSX"),
    ],
)
def test_a_refusal_on_the_page_names_no_command(
    open_page: Open, words: Words, tmp_path: Path, name: str, content: bytes, sentence: str
) -> None:
    app = hand_in(open_page("intake", tmp_path / "book"), (name, content))

    assert sentence in words(app)
    assert "`sludgebook" not in words(app)


def test_a_table_left_aside_on_the_page_names_no_command(open_page: Open, words: Words, tmp_path: Path) -> None:
    app = hand_in(
        open_page("intake", tmp_path / "book"), ("jobs.csv", JOBS), ("holiday.csv", b"where,when\nsea,July\n")
    )

    assert "holiday.csv is no table of the job log and was left aside." in words(app)
    assert "`sludgebook" not in words(app)


def test_a_file_set_aside_is_told_of_and_listed_and_the_rest_stands(
    open_page: Open, words: Words, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr("pipeline.intake.set_aside.check_batch", lambda *_: 1 / 0)
        app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.csv", JOBS))
    assert not app.exception
    assert "could not be checked and is set aside" in words(app)

    app = open_page("intake", tmp_path / "book")
    (fault,) = next(d.value for d in app.dataframe if "Reason" in d.value).to_dict("records")
    assert (fault["File"], fault["Table"]) == ("jobs.csv", "jobs")
    assert "Nothing is in the book yet" in words(app)


def test_what_a_load_undid_is_said_on_the_page(open_page: Open, words: Words, tmp_path: Path) -> None:
    app = hand_in(open_page("intake", tmp_path / "book"), ("jobs.csv", JOBS))
    hand_in(app, ("jobs.csv", JOBS.replace(b"2024", b"2023")))

    assert "1 job number stood for a visit in another year (A1: 2024-03-04 before, 2023-03-04 now)" in words(app)
    assert "1 row of earlier loads is replaced by a newer version from this load (jobs 1)" in words(app)


def test_a_manifest_that_was_cut_is_told_in_place_of_the_rejects_and_nothing_is_received(
    two_jobs: Page, open_page: Open, words: Words, tmp_path: Path
) -> None:
    shutil.copytree(two_jobs[1], tmp_path / "book")
    (manifest,) = (tmp_path / "book" / "received").glob("*/manifest.json")
    manifest.write_bytes(manifest.read_bytes()[:40])
    app = open_page("intake", tmp_path / "book")

    assert not app.exception
    assert "has a damaged manifest; restore" in words(app)
    assert "Handed in so far" in words(app)
    hand_in(app, ("emitters.csv", b"job_id,emitter_no\nA1,1\n"))
    assert not app.exception
    assert "has a damaged manifest; restore" in words(app)
    assert "Nothing was received; the book is as it was." in words(app)
