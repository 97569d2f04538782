"""An instrument's file with clock times and no day: of the job's day, asked only where it could be of several."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from pipeline.contract.findings import BadInput
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.entry_rows import job_log_rows
from pipeline.on_site.instrument_files import attach, logged_readings
from pipeline.on_site.instrument_headings import HeadingsOpen
from pipeline.on_site.open_job import read_site_job
from pipeline.store.book import Book

BEGAN = datetime(2025, 3, 4, 12, 0)
OWN = "read_at;flow_l_min"
ANSWERS = {"uhr": "clock|", "k1": "flow_l_min|L/min"}


@pytest.fixture
def begun(book: Book) -> Book:
    facts = {"job": {"system_type": "sealed"}, "emitters": [{"emitter_no": 1}], "flush_started_at": BEGAN}
    record(book, "J", "start", facts, Sender("start"), now=BEGAN)
    return book


def clocks(first: datetime, count: int = 10, heading: str = OWN, shape: str = "%H:%M:%S") -> bytes:
    lines = [f"{first + timedelta(minutes=m):{shape}};{20 + m}" for m in range(count)]
    return "\n".join([heading, *lines]).encode()


def put(book: Book, content: bytes, now: datetime, answers: dict[str, str] | None = None, entry: str = "f") -> int:
    return attach(book, read_site_job(book, "J"), "unit.csv", content, Sender(entry), answers, now=now)[1]


def moments(book: Book) -> list[datetime]:
    return [row["read_at"] for row in logged_readings(book, read_site_job(book, "J")).rows]


@pytest.mark.parametrize("shape", ["%H:%M:%S", "%H:%M", "%I:%M %p"])
def test_clock_times_are_of_the_day_of_the_job(begun: Book, shape: str) -> None:
    assert put(begun, clocks(BEGAN, shape=shape), BEGAN + timedelta(hours=1)) == 10
    assert moments(begun) == [BEGAN + timedelta(minutes=m) for m in range(10)]


def test_the_day_stays_with_the_entry_however_long_the_job_goes_on(begun: Book) -> None:
    put(begun, clocks(BEGAN), BEGAN + timedelta(hours=1))
    before = moments(begun)
    later = BEGAN + timedelta(days=1)
    record(begun, "J", "catch", {"mass_g": 10.0, "trap": "magnet"}, Sender("next"), now=later)

    assert moments(begun) == before


def test_a_file_over_midnight_goes_on_into_the_next_day(begun: Book) -> None:
    late = datetime(2025, 3, 4, 23, 55)

    assert put(begun, clocks(late), late + timedelta(hours=1)) == 10
    assert moments(begun) == [late + timedelta(minutes=m) for m in range(10)]


def test_on_the_second_day_it_is_asked_of_which_day_they_are(begun: Book) -> None:
    now = datetime(2025, 3, 5, 16, 0)
    with pytest.raises(HeadingsOpen, match=r"of which day the readings of unit\.csv are") as problem:
        put(begun, clocks(BEGAN), now)
    clock, flow = problem.value.asked
    assert clock.choices == (
        ("clock|2025-03-04", "Clock time, on 4 March"),
        ("clock|2025-03-05", "Clock time, on 5 March"),
    )
    assert flow.proposed == "flow_l_min|L/min"

    put(begun, clocks(BEGAN), now, {"read_at": "clock|2025-03-05", "flow_l_min": flow.proposed})
    assert {at.date() for at in moments(begun)} == {date(2025, 3, 5)}


def test_readings_that_would_lie_ahead_are_of_the_day_before(begun: Book) -> None:
    put(begun, clocks(BEGAN), datetime(2025, 3, 5, 8, 0))

    assert {at.date() for at in moments(begun)} == {date(2025, 3, 4)}


def test_a_clock_that_is_ahead_on_every_day_is_refused_with_what_to_do(begun: Book) -> None:
    with pytest.raises(BadInput, match="the last lies ahead of this computer's clock"):
        put(begun, clocks(BEGAN), BEGAN - timedelta(minutes=30))
    assert read_site_job(begun, "J").all_of("files") == ()


def test_headings_are_told_once_and_the_day_each_time(begun: Book) -> None:
    content, now = clocks(BEGAN, heading="Uhr;K1"), BEGAN + timedelta(hours=1)
    with pytest.raises(HeadingsOpen) as problem:
        put(begun, content, now)
    assert problem.value.asked[0].proposed == "clock|"
    put(begun, content, now, ANSWERS)
    put(begun, clocks(BEGAN + timedelta(minutes=30), heading="Uhr;K1"), now, entry="g")

    assert len(moments(begun)) == 20
    assert {at.date() for at in moments(begun)} == {BEGAN.date()}


def test_where_only_the_day_is_open_what_was_told_before_stands_there_already(begun: Book) -> None:
    content = clocks(BEGAN, heading="Uhr;K1")
    put(begun, content, BEGAN + timedelta(hours=1), ANSWERS)

    with pytest.raises(HeadingsOpen) as problem:
        put(begun, content, datetime(2025, 3, 5, 16, 0), entry="g")
    assert [each.proposed for each in problem.value.asked] == ["", "flow_l_min|L/min"]


def test_headings_that_leave_no_doubt_but_for_the_day_need_no_answer(begun: Book) -> None:
    assert put(begun, clocks(BEGAN, heading="Time;Flow [L/min]"), BEGAN + timedelta(hours=1)) == 10
    assert moments(begun)[0] == BEGAN


NIGHT = datetime(2025, 10, 26, 1, 0)


def night(*minutes: int, flows: tuple[int, ...] | None = None) -> bytes:
    """A reading at each of so many minutes after one in the night, as the clock on the wall stood."""
    told = flows or tuple(range(20, 20 + len(minutes)))
    lines = [f"{NIGHT + timedelta(minutes=m):%Y-%m-%dT%H:%M:%S};{flow}" for m, flow in zip(minutes, told, strict=True)]
    return "\n".join([OWN, *lines]).encode()


def flows_in_order(book: Book) -> list[float]:
    return [row["flow_l_min"] for row in logged_readings(book, read_site_job(book, "J")).rows]


def test_two_readings_of_an_hour_that_came_twice_stay_apart_in_order(begun: Book) -> None:
    """02:00 to 02:45 stand twice: the second four follow the first four, and 03:00 is itself again."""
    assert put(begun, night(45, 60, 75, 90, 105, 60, 75, 90, 105, 120), NIGHT + timedelta(hours=3)) == 10

    assert flows_in_order(begun) == [20, 21, 22, 23, 24, 25, 26, 27, 28, 29]
    first = [NIGHT + timedelta(minutes=m) for m in (45, 60, 75, 90, 105)]
    second = [first[-1] + timedelta(seconds=s) for s in (1, 2, 3, 4)]
    assert moments(begun) == [*first, *second, NIGHT + timedelta(hours=2)]


@pytest.mark.parametrize(
    ("content", "flows"),
    [
        (night(60, 75, 60, 75, flows=(1, 2, 3, 2)), [3, 2]),  # a row stands again: sent twice, the later counts
        (night(60, 75, 14, 75, flows=(1, 2, 3, 4)), [3, 1, 4]),  # 61 minutes back: no clock is put back so far
        (night(60, 75, 60, 75, 60, flows=(1, 2, 3, 4, 5)), [5, 4]),  # twice back
        (night(240, 255, 240, 255, flows=(1, 2, 3, 4)), [3, 4]),  # at five in the morning
        (night(105, 90, 75, 60), [23, 22, 21, 20]),  # the newest first
    ],
)
def test_any_other_file_of_a_night_stays_as_it_is(begun: Book, content: bytes, flows: list[float]) -> None:
    put(begun, content, NIGHT + timedelta(hours=6))

    assert flows_in_order(begun) == flows


def test_an_hour_back_to_the_minute_is_still_an_hour_that_came_twice(begun: Book) -> None:
    put(begun, night(60, 119, 59, 60, flows=(1, 2, 3, 4)), NIGHT + timedelta(hours=3))

    assert flows_in_order(begun) == [1, 2, 3, 4]


def test_readings_by_hand_of_an_hour_that_came_twice_stay_apart_in_order(begun: Book) -> None:
    """The clock goes 02:30, 02:50, and is put back: 02:10, 02:30, 03:10."""
    for number, minute in enumerate((90, 110, 70, 90, 130)):
        now = NIGHT + timedelta(minutes=minute)
        record(begun, "J", "reading", {"flow_l_min": float(number)}, Sender(f"r{number}"), now=now)

    rows = job_log_rows(read_site_job(begun, "J"))["readings"]
    assert [row["flow_l_min"] for row in rows] == [0, 1, 2, 3, 4]
    assert [(row["read_at"] - NIGHT).total_seconds() for row in rows] == [5400, 6600, 6601, 6602, 7800]
