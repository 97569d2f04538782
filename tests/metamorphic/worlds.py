"""Small worlds of job logs for the metamorphic tests: two firms that share job numbers, odd masses, long jobs, twins,
weighings at one moment, callbacks on days 365 and 366, a job of each firm that runs into midnight, empty cells wherever
a cell may be empty.

Everything is text, as in a file; nothing of the simulator is used, so that what is tested meets figures that no part
of the project made.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date, datetime, timedelta

import polars as pl

from pipeline.contract import JOB_LOG

FIRMS = ("north", "south")
World = dict[str, pl.DataFrame]
"""Table → its rows as text, in the order of the contract's columns that are used."""


def make_world(seed: int, jobs: int = 16, weighings: int = 18) -> World:
    """A world of `jobs` jobs, half of them each firm's, with fewer than that many weighings a job; and two by night."""
    chance = random.Random(seed)
    rows: dict[str, list[dict[str, str]]] = {name: [] for name in JOB_LOG}
    for number in range(jobs):
        _add_job(rows, chance, FIRMS[number % 2], f"J{number // 2:03d}", weighings)
    for number, firm in enumerate(FIRMS):
        _add_night(rows, {"firm_id": firm, "job_id": "night"}, ends_at_midnight=number == 0)
    return {name: pl.DataFrame(found, infer_schema_length=None) for name, found in rows.items()}


def _add_job(
    rows: dict[str, list[dict[str, str]]], chance: random.Random, firm: str, name: str, weighings: int
) -> None:
    key = {"firm_id": firm, "job_id": name}
    visit = date(2023, 1, 9) + timedelta(days=chance.randrange(500))
    started = datetime(visit.year, visit.month, visit.day, 9, chance.randrange(60), chance.randrange(60))
    days = chance.choice([0, 0, 0, 1, 3])
    ended = started + timedelta(days=days, minutes=chance.randrange(180, 480), seconds=chance.randrange(60))
    rows["jobs"].append(
        {
            **key,
            "engineer_id": chance.choice(["e1", "e2", ""]),
            "system_type": "sealed",
            "pipe_layout": chance.choice(["two_pipe", "one_pipe", ""]),
            "boiler_output_kw": f"{chance.uniform(8, 30):.1f}",
            "install_year": chance.choice(["", *map(str, range(1990, 2000))]),
            "visit_date": str(visit),
            "flush_started_at": started.isoformat(),
            "flush_ended_at": ended.isoformat(),
            "machine_max_flow_l_min": f"{chance.uniform(25, 45):.1f}",
            "strainer_checked": chance.choice(["yes", "no", ""]),
            "left_at": "",
            "followed_until": chance.choice(["", str(visit + timedelta(days=chance.choice([364, 365, 30])))]),
        }
    )
    emitters = chance.randrange(2, 4)
    for number in range(1, emitters + 1):
        rows["emitters"].append(
            {
                **key,
                "emitter_no": str(number),
                "emitter_kind": chance.choice(["panel_21", "panel_11", "column", ""]),
                "height_mm": str(chance.randrange(300, 700)),
                "length_mm": str(chance.randrange(400, 2200)),
                "cold_at_survey": chance.choice(["yes", "no", ""]),
            }
        )
    for number in range(1, chance.randrange(4)):
        rows["pipe_runs"].append(
            {
                **key,
                "run_no": str(number),
                "material": chance.choice(["copper", "steel"]),
                "outside_mm": chance.choice(["15", "22", "28"]),
                "length_m": f"{chance.uniform(2, 30):.2f}",
            }
        )
    moments = _moments(chance, started, ended, chance.randrange(6, weighings))
    rows["catches"] += _catches(chance, key, moments, emitters)
    for moment in _moments(chance, started, ended, chance.randrange(6, 12)):
        rows["readings"].append(
            {
                **key,
                "read_at": moment.isoformat(),
                "focus_emitter_no": chance.choice(["", "1", "2"]),
                "flow_l_min": chance.choice(["", f"{chance.uniform(5, 25):.2f}", f"{chance.uniform(5, 25):.2f}"]),
                "flow_temp_c": f"{chance.uniform(20, 65):.1f}",
                "return_temp_c": f"{chance.uniform(18, 55):.1f}",
            }
        )
    for day in sorted(chance.sample([20, 90, 365, 366, 400], chance.choice([0, 0, 1, 2]))):
        cause = chance.choice(["blockage", "leak", "boiler_fault"])
        rows["callbacks"].append({**key, "called_back_on": str(visit + timedelta(days=day)), "cause": cause})


def _add_night(rows: dict[str, list[dict[str, str]]], key: dict[str, str], *, ends_at_midnight: bool) -> None:
    """A flush from 20:00 that ends at midnight, left half an hour later; or one that runs on to 02:00, with weighings
    and readings on the stroke of midnight and a second either side."""
    evening = datetime(2024, 2, 28, 20)  # a leap year: the day after is the 29th
    midnight = datetime(2024, 2, 29)
    ended = midnight if ends_at_midnight else midnight + timedelta(hours=2)
    rows["jobs"].append(
        {
            **dict.fromkeys(rows["jobs"][0], ""),
            **key,
            "system_type": "sealed",
            "visit_date": str(evening.date()),
            "flush_started_at": evening.isoformat(),
            "flush_ended_at": ended.isoformat(),
            "left_at": (ended + timedelta(minutes=30)).isoformat(),
        }
    )
    rows["emitters"].append({**dict.fromkeys(rows["emitters"][0], ""), **key, "emitter_no": "1"})
    for number, second in enumerate((-1, 0, 1), start=1):
        moment = (midnight + timedelta(seconds=second)).isoformat()
        rows["catches"].append(
            {
                **dict.fromkeys(rows["catches"][0], ""),
                **key,
                "catch_no": str(number),
                "caught_at": moment,
                "trap": "magnet",
                "mass_g": f"{100.1 / number:.1f}",
                "focus_emitter_no": "1",
            }
        )
        reading = {"read_at": moment, "flow_l_min": "20.3", "flow_temp_c": "50"}
        rows["readings"].append({**dict.fromkeys(rows["readings"][0], ""), **key, **reading})


def _moments(chance: random.Random, started: datetime, ended: datetime, count: int) -> list[datetime]:
    length = int((ended - started).total_seconds())
    return [started + timedelta(seconds=second) for second in sorted(chance.sample(range(length), count))]


def _catches(
    chance: random.Random, key: dict[str, str], moments: list[datetime], emitters: int
) -> Iterator[dict[str, str]]:
    """Weighings with decimals that do not add up evenly; now and then a magnet weighed wet and dry."""
    number = 0
    for moment in moments:
        number += 1
        trap = chance.choice(["magnet", "magnet", "magnet", "strainer", "machine_base"])
        wet = chance.uniform(20, 400)
        row = {
            **key,
            "catch_no": str(number),
            "caught_at": moment.isoformat(),
            "trap": trap,
            "mass_g": f"{wet:.1f}",
            "focus_emitter_no": chance.choice(["", *map(str, range(1, emitters + 1))]),
            "weighed": "",
            "note": chance.choice(["", "schäumt", "½ full"]),
        }
        yield row
        if chance.random() < 0.05:
            number += 1
            yield {**row, "catch_no": str(number), "mass_g": f"{chance.uniform(20, 400):.1f}"}
        if chance.random() < 0.1:
            number += 1
            dry = f"{wet / chance.choice([1.81, 1.89, 1.93]):.1f}"
            yield {**row, "catch_no": str(number), "mass_g": dry, "weighed": "dry"}
