"""Times on site make sense: nothing from before the flow, nothing after it ended, and the start can be moved."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from dashboard.services import on_site
from pipeline.contract.findings import BadInput
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.entry_rows import job_log_rows
from pipeline.on_site.entry_times import BeforeTheStart, check_time
from pipeline.on_site.open_job import SiteJob, read_site_job
from pipeline.store.book import Book

NOON = datetime(2025, 3, 4, 12, 0)
CATCH = {"mass_g": 400.0, "trap": "magnet"}
JOB: dict[str, Any] = {"system_type": "sealed"}


def begun(book: Book, began: datetime = NOON, **job: Any) -> SiteJob:
    record(book, "A", "start", {"job": {**JOB, **job}, "flush_started_at": began}, Sender("s"), now=began)
    return read_site_job(book, "A")


@pytest.mark.parametrize("kind", ["catch", "reading", "focus", "change"])
def test_an_entry_from_before_the_flow_is_refused_and_says_when_it_was(book: Book, kind: str) -> None:
    with pytest.raises(BeforeTheStart, match="11:59 lies before the start of the flow at 12:00") as told:
        check_time(begun(book), kind, NOON + timedelta(minutes=29), 30.0)

    assert told.value.at == NOON - timedelta(minutes=1)


@pytest.mark.parametrize("kind", ["undo", "finish", "files", "reopen"])
def test_what_is_not_of_the_flush_has_no_such_time(book: Book, kind: str) -> None:
    check_time(begun(book), kind, NOON + timedelta(minutes=29), 30.0)


def test_at_the_very_start_it_is_taken(book: Book) -> None:
    check_time(begun(book), "catch", NOON + timedelta(minutes=30), 30.0)


def test_of_another_day_the_day_is_told(book: Book) -> None:
    with pytest.raises(BeforeTheStart, match=r"03/03/2025 23:50 lies before the start of the flow at 04/03/2025 12:00"):
        check_time(begun(book), "catch", datetime(2025, 3, 4, 12, 10), 12 * 60 + 20.0)


def test_a_finished_job_takes_nothing_more_until_it_is_opened_again(book: Book) -> None:
    now = datetime.now().replace(microsecond=0)
    begun(book, now - timedelta(hours=3))
    on_site.save(book, "A", "finish", {"flush_ended_at": now}, Sender("f"))
    with pytest.raises(BadInput, match=r"A is finished\. Open it again to add to it"):
        on_site.save(book, "A", "catch", CATCH, Sender("late"))

    on_site.save(book, "A", "reopen", {}, Sender("r"))
    on_site.save(book, "A", "catch", CATCH, Sender("late"))
    assert len(read_site_job(book, "A").all_of("catch")) == 1


def test_what_was_saved_before_the_finish_is_answered_again_after_it(book: Book) -> None:
    """The phone did not hear the answer and sends it once more."""
    now = datetime.now().replace(microsecond=0)
    begun(book, now - timedelta(hours=3))
    first = on_site.save(book, "A", "catch", CATCH, Sender("c"))
    on_site.save(book, "A", "finish", {"flush_ended_at": now}, Sender("f"))

    assert on_site.save(book, "A", "catch", CATCH, Sender("c")) == first


def test_the_start_moves_to_an_earlier_weighing_and_back(book: Book) -> None:
    now = datetime.now().replace(microsecond=0)
    began = now - timedelta(minutes=20)
    begun(book, began)
    with pytest.raises(BeforeTheStart) as told:
        on_site.save(book, "A", "catch", CATCH, Sender("c"), ago_min=45.0)
    on_site.save(book, "A", "start_moved", {"flush_started_at": told.value.at}, Sender("m"))
    on_site.save(book, "A", "catch", CATCH, Sender("c"), ago_min=45.0)

    (job,) = job_log_rows(read_site_job(book, "A"), now=now)["jobs"]
    assert abs((job["flush_started_at"] - (now - timedelta(minutes=45))).total_seconds()) <= 1
    record(book, "A", "undo", {"undoes": "c"}, Sender("u1"))
    record(book, "A", "undo", {"undoes": "m"}, Sender("u2"))
    assert read_site_job(book, "A").started_at == began


def test_the_start_does_not_move_past_what_was_entered_or_ahead_of_the_clock(book: Book) -> None:
    now = datetime.now().replace(microsecond=0)
    begun(book, now - timedelta(hours=2))
    on_site.save(book, "A", "catch", CATCH, Sender("c"), ago_min=60.0)
    with pytest.raises(BadInput, match=r"something was entered at .* already"):
        on_site.save(book, "A", "start_moved", {"flush_started_at": now - timedelta(minutes=59)}, Sender("m"))
    with pytest.raises(BadInput, match="is still to come"):
        on_site.save(book, "A", "start_moved", {"flush_started_at": now + timedelta(hours=1)}, Sender("n"))


def test_a_crew_that_arrives_after_the_flow_began_is_refused(book: Book) -> None:
    with pytest.raises(BadInput, match="the arrival at 12:01 lies after the start of the flow at 12:00"):
        begun(book, NOON, arrived_at=NOON + timedelta(minutes=1))
    assert begun(book, NOON, arrived_at=NOON).started_at == NOON


def test_ways_said_on_the_day_have_their_last_value_in_the_job_log_and_their_times_in_the_journal(book: Book) -> None:
    begun(book, NOON, isolation="all_open")
    for minute, of in ((10, {"isolation": "groups"}), (40, {"isolation": "one_at_a_time", "half_drained_emitters": 2})):
        record(book, "A", "change", of, Sender(f"w{minute}"), now=NOON + timedelta(minutes=minute))
    record(book, "A", "change", {"connection": "pump_tails", "flow_reversed": True}, Sender("x"), now=NOON)

    site = read_site_job(book, "A")
    (job,) = job_log_rows(site, now=NOON + timedelta(hours=2))["jobs"]
    told = [job[name] for name in ("isolation", "half_drained_emitters", "connection", "flow_reversed")]
    assert told == ["one_at_a_time", 2, "pump_tails", True]
    assert [event.at.minute for event in site.all_of("change")][:2] == [10, 40]


def test_the_emitters_are_those_last_walked_in_the_order_walked_and_an_unknown_room_stays_empty(book: Book) -> None:
    surveyed = [{"emitter_no": 1, "emitter_kind": "panel_22"}, {"emitter_no": 2}]
    facts = {"job": JOB, "emitters": surveyed, "flush_started_at": NOON}
    record(book, "A", "start", facts, Sender("s"), now=NOON)
    walked = [{"emitter_no": 3, "room": "hall"}, {"emitter_no": 1, "emitter_kind": "panel_22", "room": "kitchen"}]
    record(book, "A", "emitters", {"emitters": walked}, Sender("w"), now=NOON)
    record(book, "A", "focus", {"focus_emitter_no": 7}, Sender("f"), now=NOON)

    job = read_site_job(book, "A")
    assert job_log_rows(job, now=NOON + timedelta(hours=1))["emitters"] == [{"job_id": "A", **row} for row in walked]
    assert job.emitter_numbers == (3, 1, 7)
    assert [job.room(number) for number in (3, 1, 7, None)] == ["hall", "kitchen", "", ""]
    record(book, "A", "undo", {"undoes": "w"}, Sender("u"), now=NOON)
    assert [row["emitter_no"] for row in read_site_job(book, "A").emitters] == [1, 2]


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([{"emitter_no": 1}, {"emitter_no": 1}], "emitter 1 stands there 2 times"),
        ([{"room": "hall"}], "emitter 1 has no number"),
        ([{"emitter_no": 1, "emitter_kind": "stove"}], "emitter 1: .*stove"),
        ([{"emitter_no": 1, "room": "call 07700 900123"}], "room: phone number"),
    ],
)
def test_a_list_of_emitters_that_cannot_be_is_refused(book: Book, rows: list[dict[str, Any]], said: str) -> None:
    begun(book)
    with pytest.raises(BadInput, match=said):
        record(book, "A", "emitters", {"emitters": rows}, Sender("w"), now=NOON)
