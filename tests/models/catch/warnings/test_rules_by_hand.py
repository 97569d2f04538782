"""The figures that warnings tell, by hand, and the moment from which a rule may speak."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.catch.records.job import Catch, JobCatch
from models.catch.warnings import flow_falls, flow_low, goes_past, pressure_falls, trap_full
from models.catch.warnings.expected_flow import expected_l_min
from models.catch.warnings.flow_ratio import known_ratios, log_ratios
from models.catch.warnings.weighing_checks import other_trap, too_light
from tests.models.catch.warnings.test_warnings import SOUND, job


def test_a_fall_of_half_is_told_with_both_flows_and_so_is_one_of_three_tenths_at_one_setting() -> None:
    """20 L/min, then 10 and 9: the better of the two latest is half of the middle before; before = 9 / 0.5."""
    found = flow_falls.warn(job(SOUND, flow_l_min=[20.0] * 6 + [10.0, 9.0]), 120.0)

    assert found is not None
    assert (found.facts["fallen_share"], found.facts["latest_l_min"]) == pytest.approx((0.5, 9.0))
    assert found.facts["before_l_min"] == pytest.approx(18.0)
    assert flow_falls.warn(job(SOUND, flow_l_min=[20.0] * 6 + [13.999, 13.999]), 120.0) is not None
    assert flow_falls.warn(job(SOUND, flow_l_min=[20.0] * 6 + [14.001, 13.0]), 120.0) is None


def test_a_fall_needs_two_readings_before_the_two_latest() -> None:
    assert flow_falls.warn(job(SOUND[:3], flow_l_min=[20.0, 8.0, 8.0]), 45.0) is None
    assert flow_falls.warn(job(SOUND[:4], flow_l_min=[20.0, 20.0, 8.0, 8.0]), 60.0) is not None


def test_two_low_readings_are_enough_and_one_is_not() -> None:
    assert flow_low.warn(job(SOUND[:1], flow_l_min=[3.0]), 15.0) is None
    found = flow_low.warn(job(SOUND[:2], flow_l_min=[3.0, 5.0]), 30.0)
    assert found is not None
    assert found.facts["flow_l_min"] == pytest.approx(4.0)
    # the middle of the two ratios is their geometric mean: √15 over what is to be expected
    assert found.facts["share"] == pytest.approx(np.sqrt(15.0) / (expected_l_min(job(SOUND).setup, 10) or np.nan))
    assert found.facts["expected_l_min"] == pytest.approx(4.0 / found.facts["share"])


def test_what_is_open_goes_by_the_way_of_working() -> None:
    """A reading of the whole system: three emitters of a group, ten where their number is not known, one of one."""
    one = job(SOUND[:2], flow_l_min=[20.0, np.nan])
    for isolation, open_count in (("groups", 3), ("all_open", 10)):
        told = replace(one, setup=replace(one.setup, isolation=isolation))
        ratio = 20.0 / (expected_l_min(told.setup, open_count) or np.nan)
        assert log_ratios(told)[0] == pytest.approx(np.log(ratio))
    alone = replace(one, setup=replace(one.setup, isolation="one_at_a_time"))
    assert np.isnan(log_ratios(alone)).all()
    at_one = job(SOUND[:2], flow_l_min=[20.0, np.nan], emitter_no=[4, 4])
    assert known_ratios(at_one)[1].tolist() == [4]
    assert known_ratios(at_one)[0][0] == pytest.approx(np.log(20.0 / (expected_l_min(at_one.setup, 1) or np.nan)))
    assert log_ratios(job(SOUND[:1], flow_l_min=[0.0]))[0] == pytest.approx(
        log_ratios(job([1.0], flow_l_min=[0.25]))[0]
    )


def test_pressure_is_told_from_its_highest_reading_of_the_day() -> None:
    found = pressure_falls.warn(job(SOUND, pressure_bar=[1.2, 1.3, 1.4, 1.8, 1.3, 1.2, 1.2, 1.1]), 120.0)

    assert found is not None
    # the water stays at 55 degrees, so that nothing is explained
    assert (found.facts["from_bar"], found.facts["to_bar"]) == (1.8, 1.1)
    assert found.facts["unexplained_bar"] == pytest.approx(0.7)


def test_three_pressures_are_enough_and_the_two_latest_must_agree() -> None:
    assert pressure_falls.warn(job(SOUND[:2], pressure_bar=[1.8, 1.0]), 30.0) is None
    assert pressure_falls.warn(job(SOUND[:3], pressure_bar=[1.8, 1.45, 1.4]), 45.0) is not None
    assert pressure_falls.warn(job(SOUND[:3], pressure_bar=[1.8, 1.5, 1.0]), 45.0) is None


def test_a_full_magnet_is_told_by_its_latest_weighing_until_it_has_been_shut_as_long_again() -> None:
    """780 g in 20 minutes; 779 g is not full. From 20 minutes shut on it is told by what it should hold instead: the
    mean of 39 and 8.333 g a minute, 23.67, times 20: 473 g, 158 g h, and 260 g h in the spell before."""
    full, less = job([100.0, 100.0, 780.0], every=20.0), job([100.0, 900.0, 779.0], every=20.0)

    found, later = trap_full.warn(full, 79.9), trap_full.warn(full, 80.0)
    assert found is not None
    assert (found.facts["latest_g"], found.facts["latest_minutes"]) == pytest.approx((780.0, 20.0))
    assert trap_full.warn(less, 61.0) is None
    assert later is not None
    assert (later.facts["held_g"], later.facts["gram_hours"]) == pytest.approx((1420 / 3, 1420 / 9))
    assert later.facts["gram_hours_before"] == pytest.approx(260.0)
    assert later.facts["threshold_gram_hours"] == 100.0


def test_a_magnet_that_nobody_opened_is_told_by_the_quote_alone() -> None:
    """2,000 g in 240 minutes: 8.333 g a minute. Shut for t minutes: 8.333·t²/60 g h reaches 350 at 50.2 minutes."""
    unopened = replace(job(SOUND), catches=())

    assert trap_full.warn(unopened, 50.0) is None
    found = trap_full.warn(unopened, 51.0)
    assert found is not None
    assert found.facts["gram_hours"] == pytest.approx(2000 / 240 * 51**2 / 60)
    assert found.facts["held_g"] == pytest.approx(425.0)
    assert found.facts["gram_hours_before"] == 0.0
    assert trap_full.warn(replace(unopened, setup=replace(unopened.setup, expected_kg=None)), 500.0) is None


def test_nothing_goes_past_where_no_reading_names_an_emitter() -> None:
    assert goes_past.warn(job(SOUND, flow_l_min=[90.0] * 8), 120.0) is None


def test_the_latest_of_the_weighings_that_are_too_light_is_told() -> None:
    """Nothing at all is no slip, and 1 g is on the scale."""
    magnet = job([0.3, 200.0, 0.2, 0.7, 1.0, 0.0]).magnet_catches()

    found = too_light(magnet)
    assert found is not None
    assert (found.facts["minutes"], found.facts["dry_g"]) == (60.0, 0.7)
    assert found.sentence.startswith("The weighing at minute 60 is 0.70 g")
    assert too_light(job([1.0, 0.0]).magnet_catches()) is None


def with_strainer(minute: float, grams: float, *, magnet: int = 4, later: float | None = None) -> JobCatch:
    """Magnet weighings every 15 minutes, the latest of 100 g, and one of the strainer; perhaps a later one of the
    magnet."""
    one = job([300.0, 200.0, 150.0, 100.0][-magnet:])
    more = () if later is None else (Catch(later, None, None, "magnet", 90.0),)
    return replace(one, catches=(*one.catches, Catch(minute, None, None, "strainer", grams), *more))


@pytest.mark.parametrize(
    ("planted", "is_told"),
    [
        (with_strainer(70.5, 60.0), True),  # due after 0.7 of 15 minutes, 0.6 of 100 g
        (with_strainer(70.4, 60.0), False),
        (with_strainer(70.5, 59.9), False),
        (with_strainer(55.5, 60.0, magnet=3), False),
        (with_strainer(75.0, 60.0, later=85.5), True),  # the magnet came 10.5 minutes after: its turn was passed over
        (with_strainer(75.0, 60.0, later=85.4), False),
    ],
)
def test_a_trap_is_in_doubt_where_it_gave_what_the_magnet_was_due_to_give(planted: JobCatch, is_told: bool) -> None:
    assert (other_trap(planted, planted.magnet_catches()) is not None) == is_told


def test_two_weighings_of_the_magnet_since_leave_no_doubt() -> None:
    planted = with_strainer(75.0, 60.0, later=90.0)
    again = replace(planted, catches=(*planted.catches, Catch(105.0, None, None, "magnet", 80.0)))

    assert other_trap(planted, planted.magnet_catches()) is not None
    assert other_trap(again, again.magnet_catches()) is None
