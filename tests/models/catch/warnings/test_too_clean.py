"""`too_clean` at its edges: the quoted time and after it, the share from which it speaks, the pace, what is missing."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from models.catch.records.flush_clock import DayOnSite
from models.catch.records.job import Catch, JobCatch
from models.catch.records.sensor_readings import Readings, Setup
from models.catch.warnings.too_clean import warn
from models.quantiles import Quantiles

START = datetime(2031, 3, 4, 9, 0)
EXPECTED = Quantiles(p05=1.0, p10=1.2, p25=1.6, p50=2.0, p75=2.6, p90=3.3, p95=4.0)
"""Told under 0.6 of 1.0 kg, from 0.3 of 200 minutes on; one emitter at a time under 0.35 kg from 0.4 on."""


def job(
    weighed: list[tuple[float, float]], *, isolation: str = "all_open", other: tuple[Catch, ...] = (), **setup: object
) -> JobCatch:
    """Magnet weighings (flush minute, dry grams), and what other traps gave."""
    catches = tuple(Catch(minute, None, None, "magnet", grams) for minute, grams in weighed)
    day = DayOnSite(START, None, 0.0)
    told = Setup("sealed", 30.0, 100.0, EXPECTED, 200.0, isolation=isolation)
    return JobCatch(
        "own", "J1", START, None, (day,), tuple(sorted((*catches, *other), key=lambda each: each.minutes)),
        readings=Readings(), setup=replace(told, **setup),  # type: ignore[arg-type]
    )  # fmt: skip


def steady(grams: float, until: float, every: float = 20.0) -> list[tuple[float, float]]:
    """As much every 20 minutes."""
    return [(every * (at + 1), grams) for at in range(int(until / every))]


def test_after_the_quoted_time_what_is_caught_is_all_that_counts() -> None:
    """Ten weighings of 55 g by minute 200: 0.55 kg. At minutes 220 and 240 two more: 0.66 kg; nothing is taken off for
    the minutes since the quoted time (at 2.75 g a minute 40 of them would be 0.11 kg, back to 0.55)."""
    in_time, after = warn(job(steady(55.0, 200)), 200.0), warn(job(steady(55.0, 240)), 240.0)

    assert in_time is not None
    assert in_time.facts["by_end_kg"] == pytest.approx(0.55)
    assert after is None
    little = warn(job(steady(40.0, 240)), 240.0)
    assert little is not None
    assert (little.facts["caught_kg"], little.facts["by_end_kg"]) == pytest.approx((0.48, 0.48))


def test_the_pace_of_the_last_half_hour_is_carried_to_the_end_by_hand() -> None:
    """At minute 60: 100, 10, 10 g; of the last half hour and three weighings at least all three count: 120 g in 60
    minutes, 2 g a minute. By minute 200: 0.12 + 140 · 0.002 = 0.40 kg. A fourth of 10 g at 80: the three before it are
    within three weighings, from minute 20 on: 30 g in 60 minutes, 0.5 g a minute: 0.13 + 120 · 0.0005 = 0.19 kg."""
    three = warn(job([(20.0, 100.0), (40.0, 10.0), (60.0, 10.0)]), 60.0)
    four = warn(job([(20.0, 100.0), (40.0, 10.0), (60.0, 10.0), (80.0, 10.0)]), 80.0)

    assert three is not None
    assert three.facts == pytest.approx(
        {"caught_kg": 0.12, "by_end_kg": 0.40, "expected_p05_kg": 1.0, "expected_p50_kg": 2.0, "threshold_kg": 0.6}
    )
    assert four is not None
    assert four.facts["by_end_kg"] == pytest.approx(0.19)


def test_weighings_five_minutes_apart_are_taken_by_the_half_hour_of_the_clock() -> None:
    """Every 5 minutes to 60: 7 g to minute 30, then 1 g. Since minute 30, exactly half an hour ago: 6 g in 30 minutes,
    0.2 g a minute: 0.048 + 140 · 0.0002 = 0.076 kg."""
    found = warn(job([(5.0 * at, 7.0 if at <= 6 else 1.0) for at in range(1, 13)]), 60.0)

    assert found is not None
    assert found.facts["by_end_kg"] == pytest.approx(0.048 + 0.028)


@pytest.mark.parametrize(
    ("isolation", "from_minute", "grams"), [("all_open", 60.0, 59.0), ("one_at_a_time", 80.0, 34.0)]
)
def test_it_speaks_from_a_share_of_the_quoted_time_on(isolation: str, from_minute: float, grams: float) -> None:
    """Three tenths of 200 minutes, four with one emitter at a time; under 0.6 and 0.35 kg: ten weighings by the end."""
    found = job(steady(grams, 60), isolation=isolation)

    assert warn(found, from_minute - 0.01) is None
    assert warn(found, from_minute) is not None


@pytest.mark.parametrize(("isolation", "grams"), [("all_open", 60.0), ("one_at_a_time", 35.0)])
def test_just_enough_by_the_end_is_no_warning(isolation: str, grams: float) -> None:
    exact = steady(grams + 1e-6, 200)

    assert warn(job(exact, isolation=isolation), 200.0) is None
    assert warn(job([(at, each - 1e-3) for at, each in exact], isolation=isolation), 200.0) is not None


def test_two_weighings_or_no_quote_say_nothing_and_another_trap_does_not_count() -> None:
    strainer = Catch(65.0, None, None, "strainer", 5000.0)

    assert warn(job(steady(1.0, 40)), 100.0) is None
    assert warn(job(steady(1.0, 60), expected_kg=None), 100.0) is None
    assert warn(job(steady(1.0, 60), expected_minutes=None), 100.0) is None
    assert warn(job(steady(1.0, 60), expected_minutes=0.0), 100.0) is None
    assert warn(job(steady(1.0, 60), other=(strainer,)), 100.0) is not None
