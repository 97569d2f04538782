"""Times as written keep their order, however the clock is rounded."""

import numpy as np
import pytest

from synthetic_data.flush.flush_state import MAGNET
from synthetic_data.logbook.written_clocks import catch_clock, clock_step, reading_clock, visit_clocks


@pytest.fixture(scope="module")
def lazy(drawn):
    """250 jobs of which most are noted in steps of five minutes."""
    return drawn("lazy_loggers", 250, 8)[0]


def test_some_clocks_go_in_steps_of_five_and_some_to_the_minute(lazy):
    step = clock_step(lazy)

    assert set(step) == {1, 5}
    assert (visit_clocks(lazy).started[step == 5] % 5 == 0).all()
    assert (visit_clocks(lazy).started[step == 1] % 5 != 0).any()


def test_a_visit_is_noted_no_shorter_than_it_was_and_by_less_than_a_step(lazy):
    times, f = visit_clocks(lazy), lazy.flush

    assert ((f.start_min - times.started >= 0) & (f.start_min - times.started < 5)).all()
    assert ((times.ended - f.end_min >= 0) & (times.ended - f.end_min < 5)).all()
    assert (times.arrived <= times.started).all()
    assert (times.ended <= times.left).all()


@pytest.mark.parametrize("clock", [catch_clock, reading_clock])
def test_what_was_noted_lies_within_the_visit_and_near_its_time(lazy, clock):
    events = lazy.flush.weighings if clock is catch_clock else lazy.flush.readings
    written, times = clock(lazy), visit_clocks(lazy)

    assert (written >= times.started[events.row]).all()
    assert (written <= times.ended[events.row]).all()
    assert np.abs(written - events.wall_min).max() <= 2


def test_rounding_puts_no_two_weighings_of_the_magnet_at_one_time(lazy):
    w = lazy.flush.weighings
    magnet = w.trap == MAGNET
    places = list(zip(w.row[magnet].tolist(), catch_clock(lazy)[magnet].tolist(), strict=True))

    assert len(set(places)) == len(places)
