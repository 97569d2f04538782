"""An instrument's file whose headings nobody knows: asked once, kept with the file, known from then on."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from pipeline.checks.batch_sources import MAPPING_FILE
from pipeline.contract.findings import BadInput
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.instrument_files import attach, logged_readings
from pipeline.on_site.instrument_headings import HeadingsOpen
from pipeline.on_site.open_job import read_site_job
from pipeline.store.book import Book

NOON = datetime(2025, 3, 4, 12, 0)
ANSWERS = {"zeit": "read_at|dmy", "k1": "flow_l_min|m³/h", "k2": "flow_temp_c|°C"}


@pytest.fixture
def begun(book: Book) -> Book:
    for job in ("J1", "J2"):
        facts = {"job": {"system_type": "sealed"}, "emitters": [{"emitter_no": 1}], "flush_started_at": NOON}
        record(book, job, "start", facts, Sender(f"start-{job}"), now=NOON)
    return book


def channels(heading: str = "Zeit;K1;K2", stamp: str = "%d/%m/%Y %H:%M") -> bytes:
    """Ten minutes of 1.2 m³/h, which are 20 L/min, and of 50.5 °C."""
    lines = [f"{NOON + timedelta(minutes=m):{stamp}};1,2;50,5" for m in range(10)]
    return "\n".join([heading, *lines]).encode()


def put(book: Book, job: str, content: bytes, answers: dict[str, str] | None = None, entry: str = "f") -> int:
    return attach(book, read_site_job(book, job), "unit.csv", content, Sender(f"{entry}-{job}"), answers)[1]


def rows(book: Book, job: str) -> list[tuple[datetime, float, float]]:
    found = logged_readings(book, read_site_job(book, job)).rows
    return [(row["read_at"], round(row["flow_l_min"], 6), row["flow_temp_c"]) for row in found]


def test_each_heading_is_asked_with_samples_and_nothing_is_chosen_that_is_in_doubt(begun: Book) -> None:
    with pytest.raises(HeadingsOpen, match=r"Say what the headings of unit\.csv are") as problem:
        put(begun, "J1", channels())

    time, first, _ = problem.value.asked
    assert (time.heading, time.proposed) == ("zeit", "")
    assert time.choices == (("read_at|dmy", "Day and time, day first"), ("read_at|mdy", "Day and time, month first"))
    assert (first.samples, first.proposed) == (("1,2",), "")
    assert ("flow_l_min|m³/h", "Flow, m³/h") in first.choices
    assert read_site_job(begun, "J1").all_of("files") == ()


def test_as_answered_the_file_is_read_its_units_converted(begun: Book) -> None:
    assert put(begun, "J1", channels(), ANSWERS) == 10
    assert rows(begun, "J1")[0] == (NOON, 20.0, 50.5)
    assert rows(begun, "J1")[-1] == (NOON + timedelta(minutes=9), 20.0, 50.5)


def test_the_next_file_of_that_kind_needs_no_answer_on_any_job(begun: Book) -> None:
    put(begun, "J1", channels(), ANSWERS)

    assert put(begun, "J2", channels()) == 10
    assert rows(begun, "J2") == rows(begun, "J1")


def test_what_was_answered_stays_with_the_file_whatever_the_book_is_told_later(begun: Book) -> None:
    put(begun, "J1", channels(), ANSWERS)
    before = rows(begun, "J1")
    (begun.path / MAPPING_FILE).write_text(
        'version = 1\n[[tables]]\nsource = "unit"\ntable = "readings"\n[[tables.columns]]\ncolumn = "read_at"\n'
        'heading = "zeit"\ndates = "mdy"\n[[tables.columns]]\ncolumn = "ph"\nheading = "k1"\ndecimal = ","\n'
    )

    assert rows(begun, "J1") == before


def test_a_day_and_a_clock_in_two_columns_make_one_time(begun: Book) -> None:
    lines = [f"{NOON + timedelta(minutes=m):%Y-%m-%d;%H:%M:%S};19.5;50" for m in range(3)]
    content = "\n".join(["a;b;c;d", *lines]).encode()
    with pytest.raises(HeadingsOpen) as problem:
        put(begun, "J1", content)
    assert [asked.proposed for asked in problem.value.asked] == ["day|", "clock|", "", ""]

    answers = {"a": "day|", "b": "clock|", "c": "flow_l_min|L/min", "d": "flow_temp_c|°C"}
    assert put(begun, "J1", content, answers) == 3
    assert [at for at, *_ in rows(begun, "J1")] == [NOON + timedelta(minutes=m) for m in range(3)]


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({"k1": "flow_l_min|m³/h"}, "Say which heading holds the day and the time"),
        ({"zeit": "read_at|dmy"}, "Say which heading is a measurement"),
        ({**ANSWERS, "k2": "flow_l_min|L/min"}, "Two headings cannot both be flow"),
    ],
)
def test_answers_that_do_not_make_readings_are_refused(answers: dict[str, str], said: str, begun: Book) -> None:
    with pytest.raises(BadInput, match=said):
        put(begun, "J1", channels(), answers)
    assert read_site_job(begun, "J1").all_of("files") == ()
