"""The shape of a watch as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

from models.catch.watch import JobCatch, as_json, watch

Build = Callable[..., JobCatch]
LEVELS = ["p05", "p10", "p25", "p50", "p75", "p90", "p95"]


def test_the_json_of_a_watch_has_the_shape_that_programs_read(one_at_a_time: Build) -> None:
    written = json.loads(json.dumps(as_json(watch(one_at_a_time(4, 2))), allow_nan=False))

    assert (written["firm_id"], written["job_id"], written["at"]) == ("own", "by hand", "2031-03-04T09:48:00")
    assert list(written["remaining_kg"]) == LEVELS
    assert list(written["level_off_at"]) == LEVELS
    assert written["level_off_at"]["p50"].startswith("2031-03-04T")
    assert [emitter["state"] for emitter in written["emitters"][2:]] == ["not_started", "not_started"]
    assert set(written["one_more_hour"]) == {"expected_kg", "cost", "cost_per_kg", "currency", "callback_change"}
    assert written["minutes"] == 48.0
    assert isinstance(written["findings"], list)


def test_what_cannot_be_told_is_null(by_hand: Build) -> None:
    written = as_json(watch(by_hand([(20, None, 100.0)])))

    assert written["remaining_kg"] is None
    assert written["level_off_at"] is None
    assert written["one_more_hour"] is None


def test_numbers_that_are_not_finite_become_null(by_hand: Build) -> None:
    seen = replace(watch(by_hand([(20, None, 100.0)])), caught_kg=float("nan"), minutes=float("inf"))

    assert as_json(seen)["caught_kg"] is None
    assert as_json(seen)["minutes"] is None
