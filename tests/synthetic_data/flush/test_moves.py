"""Moving on, going home, stopping."""

import numpy as np

from synthetic_data.flush.flush_state import DONE, WHOLE_SYSTEM
from synthetic_data.flush.moves import DAY_MINUTES, LATEST_MIN, MOST_DAYS


def test_every_job_ends(chunk):
    assert (chunk.flush.end.phase == DONE).all()
    assert (chunk.flush.end.day < MOST_DAYS).all()
    assert (chunk.flush.end_min > chunk.flush.start_min).all()


def test_nobody_flushes_at_night(chunk):
    clock = np.concatenate([chunk.flush.weighings.wall_min, chunk.flush.readings.wall_min]) % DAY_MINUTES

    assert clock.min() >= 7 * 60
    assert clock.max() <= LATEST_MIN + 90


def test_a_second_day_is_a_working_day(chunk):
    dates = chunk.visit_date[chunk.flush.weighings.row]
    days = (chunk.flush.weighings.wall_min // DAY_MINUTES).astype("timedelta64[D]")

    assert (days > np.timedelta64(0, "D")).any()
    assert np.is_busday(dates + days).all()


def test_one_at_a_time_gives_every_emitter_its_turn(chunk):
    w = chunk.flush.weighings
    one_day = (chunk.plans.isolation == 0) & (chunk.flush.end.day == 0) & (chunk.flush.end_min < LATEST_MIN)
    seen = set(zip(w.row.tolist(), w.focus.tolist(), strict=True))

    rows = np.flatnonzero(one_day)
    assert len(rows) > 50
    for row in rows:
        assert all((row, emitter) in seen for emitter in range(chunk.houses.emitter_count[row]))


def test_all_open_names_no_emitter(chunk):
    w = chunk.flush.weighings
    several = (chunk.plans.isolation == 2)[w.row]

    assert (w.focus[several] == WHOLE_SYSTEM).all()


def test_catches_of_an_emitter_fall_off(chunk):
    w = chunk.flush.weighings
    rows = (w.trap == 0) & (w.focus >= 0)
    order = np.lexsort((w.wall_min[rows], w.focus[rows], w.row[rows]))
    key, mass = (w.row[rows] * 100 + w.focus[rows])[order], w.dry_kg[rows][order]
    first = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    last = np.r_[first[1:], len(key)] - 1
    several = last > first + 1

    assert (mass[last[several]] < mass[first[several]]).mean() > 0.9


def test_the_worse_the_house_the_longer_the_flush(chunk):
    share = np.corrcoef(np.log(chunk.fouling.magnetite_kg), np.log(chunk.flush.end_min - chunk.flush.start_min))

    assert share[0, 1] > 0.4
