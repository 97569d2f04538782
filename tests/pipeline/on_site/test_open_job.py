"""A job on site: entries checked, stored once, taken back by another entry, in the order of the book's computer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pandas as pd
import pytest

from pipeline.contract.findings import BadInput
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.entry_rows import TAKEN_BACK, job_log_rows
from pipeline.on_site.finish import hand_in
from pipeline.on_site.instrument_files import attach, logged_readings
from pipeline.on_site.job_features import site_tables
from pipeline.on_site.open_job import read_site_job, site_jobs
from pipeline.store.book import Book, read_table
from pipeline.store.journal import append, journal_path, read_journal
from pipeline.verify.verify_book import verify

NOON = datetime(2025, 3, 4, 12, 0)
FEATURES = ("ftr_catch_curve", "ftr_emitter_curve", "ftr_job_day", "ftr_emitter", "ftr_volume", "ftr_quote", "readings")
Site = Callable[..., None]
Frame = Callable[[Book, str], pd.DataFrame]


@pytest.fixture
def site(book: Book) -> Site:
    """Saves an entry so many minutes after noon; the id is the kind and the minute unless given."""

    def saved(kind: Any, minute: float, entry_id: str = "", **of: Any) -> None:
        sender = Sender(entry_id or f"{kind}-{minute}", "phone-a")
        record(book, "J1", kind, of, sender, now=NOON + timedelta(minutes=minute))

    saved(
        "start",
        0,
        job={"system_type": "sealed"},
        emitters=[{"emitter_no": 1}, {"emitter_no": 2}],
        flush_started_at=NOON,
    )
    return saved


def catches(book: Book) -> list[tuple[int, float]]:
    rows = job_log_rows(read_site_job(book, "J1")).get("catches", [])
    return [(row["catch_no"], row["mass_g"]) for row in rows]


def test_what_is_sent_twice_is_stored_once(book: Book, site: Site) -> None:
    for _ in range(3):
        site("catch", 20, "same", mass_g=420.0, trap="magnet")

    assert catches(book) == [(1, 420.0)]
    assert len(read_journal(book, "J1").entries) == 2


def test_an_entry_is_taken_back_by_another_and_stays_in_the_journal(book: Book, site: Site) -> None:
    site("catch", 20, "a", mass_g=420.0, trap="magnet")
    site("catch", 30, "b", mass_g=4200.0, trap="magnet")
    site("undo", 31, undoes="b")
    site("catch", 32, "c", mass_g=410.0, trap="magnet")

    assert catches(book) == [(1, 420.0), (3, 410.0)]
    assert len(read_journal(book, "J1").entries) == 5
    last = read_site_job(book, "J1").last_to_take_back
    assert last is not None
    assert last.entry_id == "c"


def test_taking_back_an_undo_brings_the_entry_again(book: Book, site: Site) -> None:
    site("catch", 20, "a", mass_g=420.0, trap="magnet")
    site("undo", 21, "u", undoes="a")
    site("undo", 22, "v", undoes="u")

    assert catches(book) == [(1, 420.0)]


def test_two_phones_see_each_others_entries_in_the_order_saved(book: Book, site: Site) -> None:
    for minute, phone in ((10, "a"), (11, "b"), (12, "a")):
        at = NOON + timedelta(minutes=minute)
        record(book, "J1", "catch", {"mass_g": minute, "trap": "magnet"}, Sender(f"{minute}", phone, at), now=at)

    events = read_site_job(book, "J1").all_of("catch")
    assert [(e.device, e.of["mass_g"]) for e in events] == [("a", 10), ("b", 11), ("a", 12)]


def test_a_phone_with_a_wrong_clock_is_told_of_and_its_clock_is_not_used(book: Book, site: Site) -> None:
    wrong = Sender("w", "phone-b", NOON + timedelta(hours=3, minutes=20))
    record(book, "J1", "catch", {"mass_g": 5, "trap": "magnet"}, wrong, now=NOON + timedelta(minutes=20))

    job = read_site_job(book, "J1")
    assert job.all_of("catch")[0].at == NOON + timedelta(minutes=20)
    assert [f.code for f in job.findings] == ["phone_clock"]
    assert "180 min ahead" in job.findings[0].sentence


def test_a_computer_whose_clock_is_set_back_keeps_the_order(book: Book, site: Site) -> None:
    site("catch", 60, mass_g=1.0, trap="magnet")
    site("catch", 30, mass_g=2.0, trap="magnet")

    job = read_site_job(book, "J1")
    assert [e.at for e in job.all_of("catch")] == [NOON + timedelta(minutes=60)] * 2
    assert [f.code for f in job.findings] == ["clock_set_back"]


def test_something_weighed_a_while_ago_counts_at_its_time(book: Book, site: Site) -> None:
    record(
        book, "J1", "catch", {"mass_g": 9, "trap": "magnet"}, Sender("x"), ago_min=15, now=NOON + timedelta(minutes=40)
    )

    assert read_site_job(book, "J1").all_of("catch")[0].at == NOON + timedelta(minutes=25)


@pytest.mark.parametrize(
    ("kind", "of", "said"),
    [
        ("catch", {"trap": "magnet"}, "needs its grams"),
        ("catch", {"trap": "magnet", "mass_g": 20001}, "20001 g, it must lie in 0..20000"),
        ("catch", {"trap": "bucket", "mass_g": 5}, "'bucket' is none of magnet"),
        ("reading", {}, "at least one figure"),
        ("reading", {"flow_temp_c": 140.0}, "140 °C, it must lie in 0..100"),
        ("reading", {"flow": 3}, "flow is no part of it"),
        ("start", {"job": {}, "flush_started_at": NOON}, "open-vented or sealed"),
        ("finish", {}, "the end of the flow is missing"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_saved(book: Book, kind: Any, of: dict[str, Any], said: str) -> None:
    with pytest.raises(BadInput, match="Not saved") as refused:
        record(book, "J2", kind, of, Sender("x"))

    assert said in str(refused.value)
    assert not journal_path(book, "J2").exists()


def test_a_second_job_of_the_same_name_is_refused(book: Book, site: Site) -> None:
    with pytest.raises(BadInput, match="has been started already"):
        site("start", 1, "other", job={"system_type": "sealed"}, flush_started_at=NOON)


def test_a_line_that_is_no_entry_is_left_aside_and_told(book: Book, site: Site) -> None:
    append(book, "J1", {"something": "else"})
    with journal_path(book, "J1").open("ab") as file:
        file.write(b'{"saved_at": "2025-03-04T12:')
    site("catch", 20, mass_g=420.0, trap="magnet")

    job = read_site_job(book, "J1")
    assert catches(book) == [(1, 420.0)]
    assert [f.code for f in job.findings] == ["torn_entry"]
    assert [each.name for each in site_jobs(book)] == ["J1"]


def test_the_catch_looks_the_same_on_the_day_and_in_the_book(book: Book, site: Site, frame_of: Frame) -> None:
    for minute, grams, emitter in ((20, 800, 1), (40, 500, 1), (55, 300, 2), (90, 200, 2)):
        site("catch", minute, mass_g=float(grams), trap="magnet", focus_emitter_no=emitter)
    site("reading", 30, flow_l_min=22.5)
    now = NOON + timedelta(minutes=100)
    on_the_day = site_tables(book, job_log_rows(read_site_job(book, "J1"), now=now), now, FEATURES).frames
    site("finish", 100, flush_ended_at=now, filter_fitted="on_return")
    hand_in(book, "J1")

    for name in FEATURES:
        pd.testing.assert_frame_equal(on_the_day[name], frame_of(book, name), check_dtype=False)
    # by hand, wet / dry 2.0: emitter 1 had the flow 40 min and gave 650 g, emitter 2 then 50 min and 250 g
    ends = on_the_day["ftr_emitter_curve"].groupby("emitter_no")[["focus_minutes", "cumulative_magnetite_kg"]].last()
    assert ends.to_numpy().tolist() == [[40.0, 0.65], [50.0, 0.25]]


@pytest.mark.parametrize("minute", [0.5, 1, 59, 60, 61.5, 125, 7199])
def test_a_flush_that_goes_on_ends_now_to_the_second(book: Book, site: Site, minute: float) -> None:
    site("catch", 0.2, mass_g=800.0, trap="magnet")
    now = NOON + timedelta(minutes=minute)
    rows = job_log_rows(read_site_job(book, "J1"), now=now)

    told = site_tables(book, rows, now, ("jobs",))

    ends = told.frames["jobs"]["flush_ended_at"]
    assert [at.to_pydatetime() for at in ends] == [max(now, NOON + timedelta(minutes=1))]
    assert told.findings == ()


def test_a_flush_of_more_than_five_days_is_still_told_of(book: Book, site: Site) -> None:
    now = NOON + timedelta(days=5, hours=1, minutes=30)
    rows = job_log_rows(read_site_job(book, "J1"), now=now)

    (finding,) = site_tables(book, rows, now, ("jobs",)).findings

    assert "more than 5 days after flush_started_at" in finding.sentence


def test_what_survey_and_plan_give_follows_a_change_of_the_plan(book: Book, site: Site) -> None:
    def now_told(minute: float) -> pd.DataFrame:
        now = NOON + timedelta(minutes=minute)
        rows = job_log_rows(read_site_job(book, "J1"), now=now)
        return site_tables(book, rows, now, ("ftr_quote",)).frames["ftr_quote"]

    before = now_told(10)
    before["heat_source"] = "changed by whoever asked"  # and is not seen by whoever asks next
    assert now_told(20)["heat_source"].isna().all()
    site("change", 30, heat_source="boiler")

    after = now_told(40)
    assert after["heat_source"].tolist() == ["boiler"]
    assert after["emitter_count"].tolist() == [2]


def test_finishing_makes_a_batch_once_however_often(book: Book, site: Site) -> None:
    site("catch", 20, mass_g=420.0, trap="magnet")
    site("finish", 60, flush_ended_at=NOON + timedelta(minutes=60), inhibitor_dosed=True)
    assert [(job.name, job.received) for job in site_jobs(book)] == [("J1", None)]

    first, again = hand_in(book, "J1"), hand_in(book, "J1")

    assert first.is_new
    assert not again.is_new
    assert first.batch == again.batch
    assert [job.received is None for job in site_jobs(book)] == [False]
    assert len([e for e in read_journal(book, "J1").entries if e.values["kind"] == "received"]) == 1
    assert verify(book).clean


def test_opened_again_a_job_gives_a_correction(book: Book, site: Site, frame_of: Frame) -> None:
    site("catch", 20, "a", mass_g=420.0, trap="magnet")
    site("catch", 40, "b", mass_g=300.0, trap="magnet")
    site("reading", 41, "r", flow_l_min=20.0)
    end = NOON + timedelta(minutes=60)
    site("finish", 60, flush_ended_at=end)
    hand_in(book, "J1")
    site("reopen", 70)
    site("undo", 71, undoes="a")
    site("undo", 72, undoes="r")
    site("finish", 80, flush_ended_at=end, filter_fitted="on_flow")
    hand_in(book, "J1")

    stands = frame_of(book, "catches")
    assert stands["mass_g"].tolist() == [0.0, 300.0]
    assert stands["note"].tolist()[0] == TAKEN_BACK
    assert frame_of(book, "jobs")["filter_fitted"].tolist() == ["on_flow"]
    assert frame_of(book, "readings")["flow_l_min"].isna().all()


def test_heat_and_shaking_noted_on_the_day_add_to_the_plan(book: Book, site: Site) -> None:
    site("change", 10, heat_source="boiler")
    site("change", 20, heat_source="inline_heater", agitation="vibration")

    (row,) = job_log_rows(read_site_job(book, "J1"))["jobs"]
    assert (row["heat_source"], row["agitation"]) == ("both", "vibration")


def logger_file(heading: str, minutes: int = 50) -> bytes:
    lines = [f"{(NOON + timedelta(minutes=m)).isoformat()},{20 + m % 3},{40 + m}" for m in range(minutes)]
    return "\n".join([heading, *lines]).encode()


@pytest.mark.parametrize("heading", ["read_at,flow_l_min,flow_temp_c", "Time,Flow (l/min),Flow temp (C)"])
def test_an_instruments_file_becomes_readings_of_the_job(heading: str, book: Book, site: Site, frame_of: Frame) -> None:
    site("reading", 10, flow_l_min=19.5)  # the same second as a line of the file: it moves on by one
    _, count = attach(book, read_site_job(book, "J1"), "unit 7.csv", logger_file(heading), Sender("f"))
    assert count == 50
    (kept,) = journal_path(book, "J1").with_suffix(".files").iterdir()
    assert kept.read_bytes() == logger_file(heading)

    site("finish", 60, flush_ended_at=NOON + timedelta(minutes=60))
    report = hand_in(book, "J1")

    assert report.tables["readings"].accepted == 51
    assert frame_of(book, "readings")["flow_temp_c"].max() == 89.0


def test_a_file_without_readings_is_refused_and_not_kept(book: Book, site: Site) -> None:
    with pytest.raises(BadInput, match=r"notes\.csv holds no reading that can be used: no heading with times"):
        attach(book, read_site_job(book, "J1"), "notes.csv", b"colour,shoe size\nblack,9\n", Sender("f"))

    assert not journal_path(book, "J1").with_suffix(".files").exists()


def test_a_file_changed_since_is_told_and_not_read(book: Book, site: Site) -> None:
    attach(book, read_site_job(book, "J1"), "l.csv", logger_file("read_at,flow_l_min,flow_temp_c"), Sender("f"))
    (path,) = journal_path(book, "J1").with_suffix(".files").iterdir()
    path.write_bytes(b"changed")

    found = logged_readings(book, read_site_job(book, "J1"))
    assert found.rows == ()
    assert "was changed since it was attached" in found.findings[0].sentence


def test_reading_a_table_of_an_empty_book_is_not_needed_to_start(book: Book, site: Site) -> None:
    assert read_site_job(book, "J1").started_at == NOON
    with pytest.raises(Exception, match="holds no jobs yet"):
        read_table(book.current(), "jobs")
