"""Minutes over midnight against sums by hand: two firms share every job number, each with its own edges."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pandas as pd
import pytest

from pipeline.contract.nights import flush_days
from pipeline.intake.load import LoadReport, load
from pipeline.store.book import Book
from tests.pipeline.conftest import WriteLog

Frame = Callable[[Book, str], pd.DataFrame]
HEAD = "firm_id,job_id,system_type,visit_date,flush_started_at,flush_ended_at,arrived_at,left_at"
CATCHES = "firm_id,job_id,catch_no,caught_at,trap,mass_g"
READINGS = "firm_id,job_id,read_at,flow_l_min"

# firm, job, start, end, arrived, left, catches, readings (day and hour of March 2025), minutes of flush, on site, days
EDGES = [
    # 22:00 to 02:00 with nothing else, with readings, with catches: four hours whatever was noted
    ("n", "bare", "04T22:00", "05T02:00", "04T21:00", "05T02:30", [], [], 240, 330, 1),
    ("s", "bare", "04T22:00", "05T02:00", "", "", [], ["04T23:00", "05T01:00"], 240, None, 1),
    ("n", "caught", "04T22:00", "05T02:00", "", "", ["04T22:30", "05T01:45"], [], 240, None, 1),
    # a gap over midnight of 5 h 59 is work, of 6 h 00 and 6 h 01 a night; the same gap by day is work
    ("n", "gap", "04T14:00", "05T10:00", "04T14:00", "05T10:00", ["04T20:30", "05T02:29"], [], 1200, 1200, 1),
    ("s", "gap", "04T14:00", "05T10:00", "04T14:00", "05T10:00", ["04T20:30", "05T02:30"], [], 840, 840, 2),
    ("n", "wide", "04T14:00", "05T10:00", "04T14:00", "05T10:00", ["04T20:30", "05T02:31"], [], 839, 839, 2),
    ("s", "wide", "04T08:00", "04T14:01", "04T08:00", "04T14:01", [], [], 361, 361, 1),
    # 00:00 belongs to the day before: no second day, however long ago the last moment was
    ("n", "ends", "04T16:00", "05T00:00", "04T15:00", "05T00:00", [], [], 480, 540, 1),
    ("s", "ends", "04T18:00", "05T00:01", "04T17:00", "05T00:01", [], ["04T18:02"], 361, 421, 1),
    # left after midnight: 3 hours are work; 7 are a night, and 00:30 says nothing of when work began again
    ("n", "left", "04T18:00", "04T22:00", "04T17:00", "05T01:00", [], [], 240, 480, 1),
    ("s", "left", "04T09:00", "04T17:30", "04T08:00", "05T00:30", [], [], 510, None, 2),
    # set up on the day before, cleared away on the day after: 14:00 to 16:30, 09:00 to 15:00, 08:00 to 10:00
    ("n", "setup", "05T09:00", "05T15:00", "04T14:00", "06T10:00", [], [], 360, 150 + 360 + 120, 3),
    # three days: 7 h, the middle one by its readings 6 h 30, then from the first weighing 09:00 to 12:00
    (
        "n",
        "three",
        "04T09:00",
        "06T12:00",
        "04T08:00",
        "06T13:00",
        ["04T16:00", "06T09:00"],
        ["05T08:30", "05T15:00"],
        420 + 390 + 180,
        480 + 390 + 240,
        3,
    ),
    # five days known by one moment each end to end: nobody knows what was done between
    ("s", "three", "04T09:00", "09T09:00", "04T08:00", "09T10:00", [], [], None, None, 2),
    # a day of one moment: the first runs to 16:30, the last from 08:00
    ("n", "hours", "04T09:00", "05T12:00", "04T08:00", "05T13:00", [], [], 450 + 240, 510 + 300, 2),
    # begun at 22:00, ended at 14:00, or begun at 09:00, ended at 07:30: working hours do not help
    ("s", "hours", "04T22:00", "05T14:00", "04T21:00", "05T15:00", [], [], None, None, 2),
    ("s", "early", "04T09:00", "05T07:30", "04T08:00", "05T08:30", [], [], None, None, 2),
    # a Friday and a Monday, each with two moments: the weekend is free
    (
        "n",
        "early",
        "07T09:00",
        "10T12:00",
        "07T08:00",
        "10T13:00",
        ["07T15:00", "10T08:30"],
        [],
        360 + 210,
        420 + 270,
        2,
    ),
]


def at(text: str) -> str:
    return f"2025-03-{text}" if text else ""


@pytest.fixture(scope="module")
def midnight(one_load: Callable[..., tuple[Book, LoadReport]]) -> tuple[Book, LoadReport]:
    jobs, catches, readings = [HEAD], [CATCHES], [READINGS]
    for firm, job, start, end, arrived, left, caught, read, *_ in EDGES:
        day = at(arrived or start)[:10]
        jobs.append(f"{firm},{job},sealed,{day},{at(start)},{at(end)},{at(arrived)},{at(left)}")
        catches += [f"{firm},{job},{n},{at(moment)},magnet,100" for n, moment in enumerate(caught, start=1)]
        readings += [f"{firm},{job},{at(moment)},20" for moment in read]
    return one_load(jobs=jobs, catches=catches, readings=readings)


def test_minutes_over_midnight_are_the_sums_by_hand(midnight: tuple[Book, LoadReport], frame_of: Frame) -> None:
    book, report = midnight
    assert not report.rejects
    got = frame_of(book, "ftr_outcome").set_index(["firm_id", "job_id"])
    days = frame_of(book, "ftr_job_day").groupby(["firm_id", "job_id"])["minutes"].sum(min_count=1)
    for firm, job, *_, flush, site, on_site in EDGES:
        row = got.loc[(firm, job)]
        assert (None if pd.isna(row["flush_minutes"]) else row["flush_minutes"]) == flush, (firm, job)
        assert (None if pd.isna(row["site_minutes"]) else row["site_minutes"]) == site, (firm, job)
        assert bool(row["is_second_day"]) is (on_site > 1), (firm, job)
        assert flush is None or days[firm, job] == flush


def test_the_rule_in_python_and_the_rule_in_sql_say_the_same(
    midnight: tuple[Book, LoadReport], frame_of: Frame
) -> None:
    frame = frame_of(midnight[0], "ftr_job_day")
    for firm, job, start, end, _, _, caught, read, *_ in EDGES:
        moments = [datetime.fromisoformat(at(text)) for text in (start, end, *caught, *read)]
        of_job = frame[(frame["firm_id"] == firm) & (frame["job_id"] == job)].sort_values("day_no")
        rows = [
            tuple(None if pd.isna(value) else value for value in row)
            for row in of_job[["first_at", "last_at", "minutes_before", "minutes"]].itertuples(index=False)
        ]
        assert rows == [(d.first_at, d.last_at, d.minutes_before, d.minutes) for d in flush_days(moments)], (firm, job)


def test_minutes_that_nobody_can_know_are_told_of_the_job(midnight: tuple[Book, LoadReport], frame_of: Frame) -> None:
    warned = frame_of(midnight[0], "job_warnings")
    warned = warned[warned["table_name"] == "jobs"]
    warned = warned[~warned["reason"].str.contains("emitters")]
    found = {(row["firm_id"], row["job_id"]): row["reason"] for row in warned.to_dict("records")}

    assert set(found) == {(e[0], e[1]) for e in EDGES if e[8] is None or (e[9] is None and e[4] and e[5])}
    assert "flush minutes are left empty" in found["s", "three"]
    assert "minutes on site are left empty" in found["s", "left"]


def test_a_weighing_keeps_its_place_on_the_clock_over_midnight(
    midnight: tuple[Book, LoadReport], frame_of: Frame
) -> None:
    curve = frame_of(midnight[0], "ftr_catch_curve").set_index(["firm_id", "job_id", "catch_no"])["minutes_since_start"]

    assert [curve["n", "caught", n] for n in (1, 2)] == [30, 225]
    assert [curve["n", "gap", n] for n in (1, 2)] == [390, 749]  # 14:00 to 20:30, and 5 h 59 on
    assert [curve["s", "gap", n] for n in (1, 2)] == [390, 390]  # the night between is no flushing


# job, end of the flush, left, a weighing and a reading of either firm, whether they are kept
ENDS = [
    ("a", "2025-03-04T23:30", "", "2025-03-05T00:00", True),  # midnight after the last day is still that day
    ("b", "2025-03-04T23:30", "", "2025-03-05T00:30", True),  # an hour after the flow has ended
    ("c", "2025-03-04T23:30", "", "2025-03-05T00:31", False),
    ("d", "2025-03-04T15:00", "", "2025-03-05T00:00", True),
    ("e", "2025-03-04T15:00", "", "2025-03-05T00:01", False),
    ("f", "2025-03-05T00:00", "2025-03-05T00:00", "2025-03-05T01:01", False),  # ended with the 4th: no 5th on site
    ("g", "2025-03-05T00:00", "2025-03-05T00:01", "2025-03-05T01:01", True),  # left on the 5th
]


def test_the_visit_ends_with_midnight_after_its_last_day(
    one_load: Callable[..., tuple[Book, LoadReport]], frame_of: Frame
) -> None:
    jobs, rows, readings = [HEAD], [CATCHES], [READINGS]
    for job, ended, left, caught, _ in ENDS:
        jobs += [f"{firm},{job},sealed,2025-03-04,2025-03-04T14:00,{ended},,{left}" for firm in "ns"]
        # firm n's rows stand out of order, so that they are judged one by one
        rows += [f"s,{job},1,{caught},magnet,100", f"n,{job},2,{caught},magnet,100"]
        rows.append(f"n,{job},1,2025-03-04T14:30,magnet,50")
        readings += [f"s,{job},{caught},20", f"n,{job},{caught},20", f"n,{job},2025-03-04T14:30,20"]
    book, report = one_load(jobs=jobs, catches=rows, readings=readings)

    for table in ("catches", "readings"):
        kept = frame_of(book, table)["job_id"].value_counts().to_dict()
        assert kept == {job: 3 if is_kept else 1 for job, *_, is_kept in ENDS}
        assert report.tables[table].accepted == sum(kept.values())
    assert len(report.rejects) == sum(0 if is_kept else 4 for *_, is_kept in ENDS)


def test_heat_counts_on_over_a_midnight_of_work_and_not_over_a_night(
    book: Book, write_log: WriteLog, frame_of: Frame
) -> None:
    jobs = [
        HEAD,
        "n,a,sealed,2025-03-04,2025-03-04T20:00,2025-03-05T04:00,,",
        "s,a,sealed,2025-03-04,2025-03-04T20:00,2025-03-05T05:00,,",
    ]
    head = "firm_id,job_id,read_at,flow_temp_c"
    work = ["n,a,2025-03-04T21:00,50", "n,a,2025-03-05T02:59,50"]
    night = ["s,a,2025-03-04T21:00,50", "s,a,2025-03-04T22:00,50", "s,a,2025-03-05T04:00,50", "s,a,2025-03-05T05:00,50"]
    load([write_log(jobs=jobs, readings=[head, *work, *night])], book)
    got = frame_of(book, "ftr_heat").set_index("firm_id")["degree_hours_above_20_c"]

    assert got["n"] == pytest.approx(30 * (5 + 59 / 60))
    assert got["s"] == pytest.approx(30 * 2)  # six hours from 22:00 to 04:00 are a night
