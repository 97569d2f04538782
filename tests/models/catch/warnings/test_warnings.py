"""Warnings of faults: each on a planted situation, silent on a sound one, and with the moment it arose.

Rates on simulated normal and faulty jobs are measured by `tests/benchmarks/bench_warnings.py`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from models.catch.records.flush_clock import DayOnSite
from models.catch.records.job import Catch, JobCatch
from models.catch.records.sensor_readings import Readings, Setup
from models.catch.warnings.alerts import RULES, _held_for
from models.catch.watch import watch
from models.quantiles import Quantiles

START = datetime(2031, 3, 4, 9, 0)
EXPECTED = Quantiles(p05=1.0, p10=1.2, p25=1.6, p50=2.0, p75=2.6, p90=3.3, p95=4.0)


def job(grams: list[float], every: float = 15.0, **readings: Any) -> JobCatch:
    """A house flushed whole: a weighing and a reading every `every` minutes; sound unless told otherwise."""
    n = len(grams)
    minutes = every * np.arange(1, n + 1)
    sound = {
        "flow_l_min": np.full(n, 25.0),
        "water_c": np.full(n, 55.0),
        "turbidity_ntu": np.full(n, 150.0),
        "pressure_bar": np.full(n, 1.5),
    }
    taken = {name: np.asarray(readings.get(name, usual), dtype=float) for name, usual in sound.items()}
    catches = tuple(Catch(float(m), None, None, "magnet", g) for m, g in zip(minutes, grams, strict=True))
    last = START + timedelta(minutes=float(minutes[-1]))
    emitters = np.asarray(readings.get("emitter_no", np.zeros(n)), dtype=np.int64)
    return JobCatch(
        "own",
        "J1",
        START,
        None,
        (DayOnSite(START, last, 0.0),),
        catches,
        readings=Readings(minutes, emitters, **taken),
        setup=Setup("sealed", 30.0, 100.0, EXPECTED, 240.0, isolation="all_open"),
    )


def with_sand(one: JobCatch, grams: float, sticks: bool | None = None) -> JobCatch:
    """The same job with a weighing of the strainer after all others."""
    last = one.catches[-1].minutes
    return replace(one, catches=(*one.catches, Catch(last, None, None, "strainer", grams, sticks)))


SOUND = [260.0, 210.0, 180.0, 150.0, 120.0, 100.0, 80.0, 60.0]


def codes(one: JobCatch) -> set[str]:
    now = one.catches[-1].minutes
    return {name for name, rule in RULES.items() if rule(one, now) is not None}


def test_a_sound_job_is_not_warned_of() -> None:
    assert codes(job(SOUND)) == set()


@pytest.mark.parametrize(
    ("code", "planted"),
    [
        ("flow_low", job(SOUND, flow_l_min=[3.0] * 8)),
        ("flow_falls", job(SOUND, flow_l_min=[26, 25, 25, 26, 25, 24, 15, 14])),
        ("other_debris", with_sand(job(SOUND), 800.0)),
        ("pressure_falls", job(SOUND, pressure_bar=[1.5, 1.5, 1.5, 1.4, 1.2, 1.0, 0.9, 0.8])),
        ("too_clean", job([40.0, 20.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0])),
        ("trap_full", job([600.0, 800.0])),
    ],
)
def test_a_planted_fault_is_found_by_its_own_rule(code: str, planted: JobCatch) -> None:
    finding = RULES[code](planted, planted.catches[-1].minutes)

    assert finding is not None
    assert finding.code == code
    assert code in codes(planted)
    assert "Check first" in finding.sentence or "Clean it now" in finding.sentence


def test_a_fall_that_cooling_explains_is_no_leak() -> None:
    # 100 L cooling from 60 to 25 degrees shrink by 1.4 L (IAPWS densities 983.2 and 997.0 kg/m3): with 4.5 L of gas
    # the pressure falls by about 0.6 bar by cooling alone
    cooled = job(SOUND, water_c=[60, 60, 60, 60, 60, 40, 25, 25], pressure_bar=[1.5] * 5 + [1.2, 0.9, 0.9])

    assert "pressure_falls" not in codes(cooled)
    assert "pressure_falls" in codes(replace(cooled, readings=replace(cooled.readings, water_c=np.full(8, 60.0))))


def test_flow_is_held_against_what_thin_tails_let_through() -> None:
    # 40 L/min through one emitter on 8 mm tails: a few litres are all there can be, on 15 mm tails something throttles
    thin = job(SOUND, flow_l_min=[4.5] * 8, emitter_no=[1, 1, 2, 2, 3, 3, 4, 4])
    setup = Setup("sealed", 40.0, isolation="one_at_a_time", connection="boiler_flow_return", tail_bore_mm=8.0)

    assert "flow_low" not in codes(replace(thin, setup=setup))
    assert "flow_low" in codes(replace(thin, setup=replace(setup, tail_bore_mm=15.0)))


def test_a_fall_is_seen_across_emitters_and_not_mistaken_for_their_tails() -> None:
    setup = Setup("sealed", 40.0, isolation="one_at_a_time", connection="boiler_flow_return")
    each = list(range(1, 9))
    falls = job(SOUND, flow_l_min=[17, 15, 16, 18, 15, 12, 9, 8], emitter_no=each)
    differs = job(SOUND, flow_l_min=[17, 15, 16, 18, 15, 16, 12, 13], emitter_no=each)

    assert "flow_falls" in codes(replace(falls, setup=setup))
    assert "flow_falls" not in codes(replace(differs, setup=setup))


def test_flow_past_one_emitter_is_told_at_the_second_reading_where_it_is_far_more() -> None:
    setup = Setup("sealed", 40.0, isolation="one_at_a_time", connection="boiler_flow_return")
    much, more = (replace(job(SOUND[:2], flow_l_min=[f, f], emitter_no=[1, 2]), setup=setup) for f in (24.0, 29.0))

    assert "goes_past" not in codes(much)
    assert "goes_past" in codes(more)


def test_little_so_far_is_no_warning_where_the_pace_still_makes_up_for_it() -> None:
    # 0.06 kg a quarter of an hour from minute 15 on: 0.96 kg by minute 240, against 0.6 of 1.0 kg
    steady, fades = job([60.0] * 6), job([60.0, 40.0, 15.0, 8.0, 4.0, 3.0])

    assert "too_clean" not in codes(steady)
    assert "too_clean" in codes(fades)


def test_a_new_day_starts_with_a_pressure_of_its_own() -> None:
    fallen = job(SOUND, pressure_bar=[1.6] * 4 + [0.9] * 4)
    first, second = START + timedelta(hours=1), START + timedelta(days=1)
    overnight = replace(
        fallen, days=(DayOnSite(START, first, 0.0), DayOnSite(second, second + timedelta(hours=1), 60.5))
    )

    assert "pressure_falls" in codes(fallen)
    assert "pressure_falls" not in codes(overnight)


def test_one_odd_reading_is_no_warning() -> None:
    assert codes(job(SOUND, flow_l_min=[25, 25, 25, 25, 25, 25, 25, 9])) == set()
    assert codes(job(SOUND, pressure_bar=[1.5] * 7 + [0.6])) == set()


def test_a_trap_left_too_long_at_a_heavy_pace_is_told_before_it_is_weighed() -> None:
    # by hand: latest pace 40 g/min, quote 2,000 g in 240 min, mean 24.2 g/min; 25 min shut: 604 g, 252 g h; 30: 363 g h
    one = job([400.0, 400.0], every=10.0)
    found = RULES["trap_full"](one, 50.0)

    assert RULES["trap_full"](one, 45.0) is None
    assert found is not None
    assert found.facts["gram_hours"] == pytest.approx(363.0, abs=1.0)


def test_a_trap_seldom_opened_is_told_in_its_second_long_spell_and_one_lunch_hour_is_not() -> None:
    seldom, once = job([250.0, 250.0], every=45.0), job([60.0] * 4, every=8.0)

    # 250 g in 45 minutes is 188 g h; the second spell needs 100 g h: at 6.9 g/min, the mean of both paces, 29.4 minutes
    assert RULES["trap_full"](seldom, 90.0 + 29.0) is None
    assert RULES["trap_full"](seldom, 90.0 + 30.0) is not None
    assert RULES["trap_full"](once, 32.0 + 45.0) is None


def test_more_flow_than_one_emitter_lets_through_goes_past_it() -> None:
    # 40 L/min machine, 15 mm tails: about 16 L/min is to be expected through one emitter
    setup = Setup("sealed", 40.0, isolation="one_at_a_time", connection="boiler_flow_return")
    loop = replace(job(SOUND, flow_l_min=[27.0] * 8, emitter_no=[1, 1, 2, 2, 3, 3, 4, 4]), setup=setup)

    assert "goes_past" in codes(loop)
    assert "goes_past" not in codes(replace(loop, setup=replace(setup, pipe_layout="one_pipe")))
    assert "goes_past" not in codes(replace(loop, setup=replace(setup, isolation="groups")))
    assert "goes_past" not in codes(replace(loop, readings=replace(loop.readings, flow_l_min=np.full(8, 18.0))))


def test_other_debris_is_told_by_the_scale_and_not_by_dirty_water() -> None:
    """The magnet gave 1,160 g, of which 60 % are 696: under it, or sticking to a magnet, nothing is told."""
    assert sum(SOUND) == 1160.0
    assert "other_debris" not in codes(with_sand(job(SOUND), 695.0))
    assert "other_debris" in codes(with_sand(job(SOUND), 696.0))
    assert "other_debris" not in codes(with_sand(job(SOUND), 696.0, sticks=True))
    assert "other_debris" in codes(with_sand(job(SOUND), 696.0, sticks=False))
    assert "other_debris" not in codes(job(SOUND, turbidity_ntu=[9000.0] * 8))


def test_an_emitter_that_lets_nothing_through_is_told_only_where_the_others_flow() -> None:
    setup = Setup("sealed", 40.0, isolation="one_at_a_time", connection="boiler_flow_return")
    each = [1, 1, 2, 2, 3, 3, 4, 4]
    blocked, low = ([15.0] * 7 + [last] for last in (2.0, 7.0))
    told = replace(job(SOUND, flow_l_min=blocked, emitter_no=each), setup=setup)

    assert "no_way_through" in codes(told)
    assert "no_way_through" not in codes(replace(told, setup=replace(setup, isolation="groups")))
    assert "no_way_through" not in codes(replace(job(SOUND, flow_l_min=low, emitter_no=each), setup=setup))
    assert "no_way_through" not in codes(replace(job(SOUND, flow_l_min=[2.0] * 8, emitter_no=each), setup=setup))


def test_under_half_a_kilogram_of_other_debris_is_not_told_however_little_the_magnet_gave() -> None:
    little = job([10.0] * 3)

    assert "other_debris" not in codes(with_sand(little, 499.0))
    assert "other_debris" in codes(with_sand(little, 500.0))


def test_an_open_tank_leaves_no_pressure_to_fall_and_a_head_tank_no_cooling_to_explain_it() -> None:
    """From 60 to 40 degrees 100 L over 4.5 L of gas lose some 0.4 bar by cooling; under a head tank nothing."""
    cooled = job(SOUND, water_c=[60, 60, 60, 60, 60, 40, 40, 40], pressure_bar=[1.5] * 5 + [1.1, 1.1, 1.1])
    vented = replace(cooled, setup=replace(cooled.setup, system_type="open_vented"))

    assert "pressure_falls" not in codes(cooled)
    assert "pressure_falls" in codes(vented)
    assert "pressure_falls" not in codes(replace(vented, setup=replace(vented.setup, has_open_tank=True)))


def test_a_warning_tells_since_when_and_ends_with_the_flush() -> None:
    one = job(SOUND, flow_l_min=[26, 25, 25, 26, 15, 15, 15, 15])
    found = {finding.code: finding for finding in watch(one).findings}

    # the second of two low readings is the first moment at which the rule holds
    assert found["flow_falls"].facts["since_minutes"] == 6 * 15.0
    over = replace(one, ended_at=START + timedelta(minutes=125))
    assert "flow_falls" not in {finding.code for finding in watch(over).findings}


def test_how_long_a_rule_has_held_is_found_with_few_questions() -> None:
    asked: list[int] = []

    def holds_for_37(number: int) -> bool:
        asked.append(number)
        return number < 37

    assert _held_for(holds_for_37, 100) == 37
    assert len(asked) <= 13
    assert [_held_for(lambda number, k=k: number < k, 5) for k in range(6)] == [0, 1, 2, 3, 4, 5]


def test_nothing_logged_nothing_warned() -> None:
    bare = replace(job(SOUND), readings=Readings(), setup=Setup())

    assert codes(bare) == set()
