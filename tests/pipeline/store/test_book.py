"""The book: one sentence when it is missing, locked or damaged; exports and templates."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import polars as pl
import pytest

from pipeline.contract.findings import BadInput, BookError
from pipeline.contract.templates import format_data, format_text, write_templates
from pipeline.intake.load import load
from pipeline.store.book import Book, read, read_records, read_table
from pipeline.store.export import export_table, write_frame
from pipeline.store.job_reads import OF_JOB, find_job, rows_of_job
from tests.pipeline.conftest import HAND_WRITTEN, JOB_A, JOBS_HEAD, NEIGHBOUR, NEIGHBOURS_JOBS, WriteLog


def test_a_book_that_is_not_there_is_told_with_the_remedy(tmp_path: Path) -> None:
    with pytest.raises(BookError, match=r"There is no book .* `sludgebook load"):
        Book(tmp_path / "none").current()


def test_a_folder_that_is_no_book_is_told(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="is no book"):
        Book(tmp_path).current()


def test_an_empty_book_is_told(book: Book) -> None:
    book.create()
    with pytest.raises(BookError, match="holds no jobs yet"):
        book.current()


def test_a_damaged_build_is_told_and_the_next_load_mends_it(tmp_path: Path, hand_report: tuple[Book, object]) -> None:
    shutil.copytree(hand_report[0].path, tmp_path / "book")
    book = Book(tmp_path / "book")
    book.current().write_bytes(b"not a database")

    with pytest.raises(BookError, match=r"is damaged .*`sludgebook rebuild"):
        read_table(book.current(), "jobs")
    load([HAND_WRITTEN], book)
    assert len(read_table(book.current(), "jobs")) == 10 + len(NEIGHBOURS_JOBS)


def test_a_build_held_by_another_program_is_told(tmp_path: Path, hand_report: tuple[Book, object]) -> None:
    shutil.copytree(hand_report[0].path, tmp_path / "book")
    build = Book(tmp_path / "book").current()
    hold = "import duckdb, sys; c = duckdb.connect(sys.argv[1]); print('held', flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(build)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(BookError, match="is locked by another program"):
            read_table(build, "jobs")
        other.communicate()
    assert len(read_table(build, "jobs")) == 10 + len(NEIGHBOURS_JOBS)


def test_parameters_are_values_never_text(hand_report: tuple[Book, object]) -> None:
    build = hand_report[0].current()
    query = "select job_id from jobs where firm_id = $firm and job_id = $job"

    assert read(build, query, firm="own", job="H-01")["job_id"].tolist() == ["H-01"]
    assert read_records(build, query, firm="own", job="x' or 'a' = 'a") == []


def test_a_new_ratio_in_the_settings_makes_a_new_build(book: Book) -> None:
    first = load([HAND_WRITTEN], book)
    text = book.firm_file.read_text(encoding="utf-8")
    assert "wet_dry_ratio = 2.0" in text
    book.firm_file.write_text(text.replace("wet_dry_ratio = 2.0", "wet_dry_ratio = 1.5"), encoding="utf-8")
    second = load([HAND_WRITTEN], book)

    outcome = read_table(book.current(), "ftr_outcome").set_index("job_id")
    assert first.build != second.build
    assert outcome.loc["H-01", "magnetite_kg"] == pytest.approx(1.170 / 1.5)


def test_a_job_is_found_by_name_and_by_firm_and_name(book: Book, write_log: WriteLog) -> None:
    jobs = [f"firm_id,{JOBS_HEAD}", f"x,{JOB_A}", f"y,{JOB_A}", f"y,b{JOB_A[1:]}"]
    load([write_log(jobs=jobs)], book)
    build = book.current()

    assert find_job(build, "b") == ("y", "b")
    assert find_job(build, "x/a") == ("x", "a")
    with pytest.raises(BadInput, match="2 firms have a job 'a'; name one of x/a, y/a"):
        find_job(build, "a")
    with pytest.raises(BadInput, match="'c' is not in the book"):
        find_job(build, "c")


def test_each_table_of_one_job_can_be_read(hand_report: tuple[Book, object]) -> None:
    rows = {name: len(rows_of_job(hand_report[0].current(), name, "own", "H-01")) for name in OF_JOB}
    assert rows["ftr_catch_curve"] == 7
    assert rows["ftr_emitter_curve"] == 6
    assert rows["readings"] == 4
    masses = [rows_of_job(hand_report[0].current(), "ftr_catch_curve", firm, "H-01") for firm in ("own", NEIGHBOUR)]
    own, neighbours = (each["cumulative_magnetite_kg"].dropna().to_numpy() for each in masses)
    assert neighbours == pytest.approx(2 * own)
    assert all(rows[name] == 1 for name in ("jobs", "ftr_quote", "ftr_volume", "ftr_heat", "ftr_outcome"))


@pytest.mark.parametrize("ending", [".csv", ".parquet", ".xlsx"])
def test_any_table_is_exported_whole(ending: str, tmp_path: Path, hand_report: tuple[Book, object]) -> None:
    out = tmp_path / f"out{ending}"
    assert export_table(hand_report[0], "catches", out) == 33 + 23
    frame = {".csv": pl.read_csv, ".parquet": pl.read_parquet, ".xlsx": pl.read_excel}[ending](out)
    assert frame["mass_g"].sum() == pytest.approx(read_table(hand_report[0].current(), "catches")["mass_g"].sum())


def test_an_export_never_overwrites_and_names_the_tables(tmp_path: Path, hand_report: tuple[Book, object]) -> None:
    (tmp_path / "out.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="not overwritten"):
        export_table(hand_report[0], "catches", tmp_path / "out.csv")
    with pytest.raises(BadInput, match="must end in"):
        export_table(hand_report[0], "catches", tmp_path / "out.pdf")
    with pytest.raises(BookError, match="There is no table 'sludge'; there are callbacks, catches"):
        export_table(hand_report[0], "sludge", tmp_path / "new.csv")


def test_text_that_a_spreadsheet_would_run_is_escaped_in_csv(tmp_path: Path) -> None:
    write_frame(pl.DataFrame({"note": ["=1+1", "plain"], "n": [-1, 2]}), tmp_path / "out.csv")
    assert (tmp_path / "out.csv").read_text(encoding="utf-8").splitlines() == ["note,n", "'=1+1,-1", "plain,2"]


def test_templates_are_empty_tables_that_load(tmp_path: Path, book: Book, write_log: WriteLog) -> None:
    paths = write_templates(tmp_path / "templates")
    assert [p.name for p in paths][-1] == "job_log.xlsx"
    report = load([tmp_path / "templates" / "csv"], book)
    assert {name: c.rows for name, c in report.tables.items()}["jobs"] == 0
    assert load([paths[-1]], book).tables["readings"].rows == 0
    with pytest.raises(BadInput, match="not overwritten"):
        write_templates(tmp_path / "templates")


def test_the_format_names_every_column_with_its_unit() -> None:
    text = format_text()
    assert "  flow_l_min                  number   Flow [L/min] [0..200] (during)" in text
    assert {table["table"] for table in format_data()} >= {"jobs", "emitters", "catches"}
    assert "emitters:" not in format_text("jobs")
    with pytest.raises(BadInput, match="no table 'sludge'"):
        format_text("sludge")
