"""Private details inside notes and districts: left out of the cell, the row loads, a warning says so.

Numbers and codes are ones set aside for fiction: 07700 900000 to 900999 and 020 7946 0000 to 0999 (Ofcom's numbers for
drama use), 555-0100 to 0199 (North America), `example.org` (RFC 2606).
"""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipeline.checks.row_warnings import warnings_of_job
from pipeline.intake.load import load
from pipeline.privacy.private_text import holds_private, without_private
from pipeline.readers.text_tables import BrokenRow, TextTable
from pipeline.store.book import Book, read_table
from pipeline.verify.verify_book import verify
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD, WriteLog

CATCH = "a,1,2025-03-04T10:00,magnet,500"


@pytest.mark.parametrize(
    ("note", "kept"),
    [
        ("ring 07700 900123 first", "ring [phone number left out] first"),
        ("(020) 7946 0018", "[phone number left out]"),
        ("tel +44 7700 900456, late", "tel [phone number left out], late"),
        ("0044 7700 900456", "[phone number left out]"),
        ("call 202-555-0143", "call [phone number left out]"),
        ("ann@example.org or bob@mail.example.org.", "[e-mail address left out] or [e-mail address left out]."),
        ("key at 12 High Street, ZZ1 1AA", "key at [street address left out], [postcode left out]"),
    ],
)
def test_what_points_to_a_person_is_left_out_of_a_note(note: str, kept: str) -> None:
    text = TextTable(pl.DataFrame({"line": [2], "note": [note]}))

    assert holds_private(text.frame)
    assert without_private(text, "catches", b"key").frame["note"].to_list() == [kept]


@pytest.mark.parametrize(
    "note",
    [
        "420 g at 09:15, 310 g at 10:30",
        "03.04.2025 09:15",
        "03/04/2025 1030",
        "0900-1030",
        "2 emitters, 3 KG wet",
        "trap K1 2 KG",
        "J-2025-0001234",
        "0.125 kg dry",
        "pH 8.5, 1200 uS/cm",
        "22 mm copper to 15 mm",
        "+0.5 bar",
    ],
)
def test_what_an_engineer_notes_stays_as_it_is(note: str) -> None:
    text = TextTable(pl.DataFrame({"line": [2], "note": [note]}))

    assert not holds_private(text.frame)
    assert without_private(text, "catches", b"key").frame["note"].to_list() == [note]


@pytest.mark.parametrize(
    ("whole", "district"), [("ZZ1 1AA", "ZZ1"), ("zz11aa", "zz1"), (" ZZ1A 1AA ", "ZZ1A"), ("ZZ221AA", "ZZ22")]
)
def test_of_a_whole_postcode_the_district_is_kept(whole: str, district: str) -> None:
    text = TextTable(pl.DataFrame({"line": [2, 3], "postcode_district": [whole, "ZZ9"]}))
    hidden = without_private(text, "jobs", b"key")

    assert hidden.frame["postcode_district"].to_list() == [district, "ZZ9"]
    assert hidden.left_out["line"].to_list() == [2]


def test_the_row_loads_with_a_warning_and_nothing_private_is_in_the_book(book: Book, write_log: WriteLog) -> None:
    log = write_log(
        jobs=[f"{JOBS_HEAD},postcode_district", f"{JOB_A},ZZ1 1AA"],
        catches=[f"{CATCHES_HEAD},note", f"{CATCH},ring 07700 900123"],
    )
    report = load([log], book)

    assert [counts.accepted for counts in report.tables.values() if counts.rows] == [1, 1]
    assert [f.sentence for f in report.findings if f.code == "private_left_out"] == [
        "2 cells held private details and were loaded without them; the received files keep them."
    ]
    told = [warning.sentence for warning in warnings_of_job(book.current(), "own", "a") if warning.file]
    assert told == [
        "catches.csv line 2: note ring [phone number left out] is loaded without the phone number that stood in it.",
        "jobs.csv line 2: postcode_district ZZ1 is loaded without the rest of the postcode that stood in it.",
    ]
    made = [path.read_bytes() for path in book.path.rglob("*") if path.is_file() and "received" not in path.parts]
    assert not any(b"900123" in content or b"ZZ1 1AA" in content for content in made)
    assert verify(book).clean


def test_parquet_gives_the_same_notes_as_csv(tmp_path: Path, book: Book, write_log: WriteLog) -> None:
    log = write_log(jobs=[JOBS_HEAD, JOB_A], catches=[f"{CATCHES_HEAD},note", f"{CATCH},07700 900123"])
    pl.read_csv(log / "catches.csv", try_parse_dates=True).write_parquet(log / "catches.parquet")
    (log / "catches.csv").unlink()
    load([log], book)

    assert read_table(book.current(), "catches")["note"].tolist() == ["[phone number left out]"]


def test_a_broken_line_is_shown_without_the_mail_address_in_it() -> None:
    text = TextTable(pl.DataFrame(schema={"line": pl.Int64}), (BrokenRow(3, "a,ann@example.org,7,8", "too long"),))

    assert without_private(text, "jobs", b"key").broken[0].text == "a,[e-mail address left out],7,8"
