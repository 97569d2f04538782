"""No two parts of one screen disagree, at any minute: what is said to be level is little, and "stop" is never said
while kilograms are due."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta

import numpy as np
import pytest

from dashboard.services import watching
from dashboard.services.build_tables import whole_tables
from models.catch.records.job import JobCatch
from models.catch.records.watch_result import Watch
from models.catch.warnings.alerts import is_level, is_little
from models.catch.watch import watch
from models.catch.wording import LITTLE_KG
from pipeline.store.book import Book

Build = Callable[..., JobCatch]
Rows = Sequence[tuple[float, int | None, float]]
SLOW_QUARTER: Rows = [(15.0, None, 900.0), (30.0, None, 800.0), (45.0, None, 20.0), (60.0, None, 700.0)]
"""Minutes, emitter and grams wet: the third weighing is a magnet that was not wiped down, not a house run dry."""
TWO_EACH: Rows = [(10.0, 1, 300.0), (20.0, 1, 4.0), (30.0, 2, 400.0), (40.0, 2, 300.0), (50.0, 2, 250.0)]
THREE_EACH: Rows = [(9.0, 1, 300.0), (18.0, 1, 9.0), (27.0, 1, 1.0), (36.0, 2, 700.0), (45.0, 2, 600.0)]


def disagreements(seen: Watch) -> list[str]:
    """What two parts of the screen say that cannot both be so."""
    said = " ".join([seen.answer, *(finding.sentence for finding in seen.findings)])
    due = seen.if_flow_goes_on_kg.p50 if seen.if_flow_goes_on_kg else np.inf
    found = [f"stop, {due:.2f} kg due"] if "or stop" in said and due > LITTLE_KG else []
    for emitter in seen.emitters:
        left = emitter.remaining_kg.p50 if emitter.remaining_kg else np.inf
        if emitter.state == "levelled_off" and (emitter.catches < 3 or left > LITTLE_KG):
            found.append(f"emitter {emitter.emitter_no} level after {emitter.catches}, {left:.2f} kg left")
        if (
            "levelled off" in emitter.sentence
            and emitter.state != "levelled_off"
            and "too early" not in emitter.sentence
        ):
            found.append(f"emitter {emitter.emitter_no} is {emitter.state}: {emitter.sentence}")
    return found


@pytest.mark.parametrize("rows", [SLOW_QUARTER, TWO_EACH, THREE_EACH])
def test_minute_by_minute_no_two_parts_of_the_screen_disagree(by_hand: Build, rows: Rows) -> None:
    job = by_hand(rows, emitters=3)
    told = {
        minute: watch(job, job.started_at + timedelta(minutes=minute), all_fits=False) for minute in range(0, 62, 3)
    }

    assert {minute: found for minute, seen in told.items() if (found := disagreements(seen))} == {}


@pytest.mark.parametrize("tau", [10.0, 40.0, 200.0])
def test_a_house_is_told_to_stop_only_when_little_is_due(house: Build, tau: float) -> None:
    job = house(12, kg=6.0, tau=tau)
    told = [watch(job, job.started_at + timedelta(minutes=minute), all_fits=False) for minute in range(15, 185, 10)]

    assert [found for seen in told if (found := disagreements(seen))] == []


@pytest.mark.parametrize(
    ("share", "kg", "catches", "is_so"),
    [
        (0.96, 0.050, 3, True),
        (0.96, 0.051, 3, False),  # a large house: a twentieth of it is still worth the time
        (0.96, 0.050, 2, False),  # a slow quarter hour is not a trend
        (0.50, 0.020, 3, True),
        (0.50, 0.021, 3, False),
    ],
)
def test_level_is_three_weighings_and_little_left(share: float, kg: float, catches: int, is_so: bool) -> None:
    assert is_level(np.full(9, share), np.full(9, kg), catches) is is_so
    assert is_little(np.full(9, kg)) is (kg <= LITTLE_KG)


def watched(book: Book, jobs: int, every_min: int) -> dict[str, list[str]]:
    """Simulated jobs watched again with what was learnt from all: by job and minute, what did not agree."""
    build = book.current()
    known, read = watching.past(book, build), whole_tables(build)
    listed = read("jobs").sort_values("job_id").head(jobs)
    found: dict[str, list[str]] = {}
    for firm_id, job_id in listed[["firm_id", "job_id"]].itertuples(index=False):
        job = watching.job_of_book(read, firm_id, job_id, book.firm(), known)
        assert job.ended_at is not None
        at = job.started_at
        while (at := at + timedelta(minutes=every_min)) < job.ended_at:
            if said := disagreements(watching.watch(job, at, known)):
                found[f"{job_id} {at:%d %H:%M}"] = said
    return found


def test_in_simulated_jobs_no_two_parts_of_the_screen_disagree(trained_book: Book) -> None:
    assert watched(trained_book, jobs=6, every_min=20) == {}


@pytest.mark.study
def test_in_many_simulated_jobs_no_minute_is_found_at_which_they_do(simulated_book: Callable[..., Book]) -> None:
    assert watched(simulated_book(200, 31, trained=True, scenario="two_speeds"), jobs=16, every_min=2) == {}
