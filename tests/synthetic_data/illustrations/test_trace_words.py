"""Words about a traced job agree with its figures."""

from __future__ import annotations

import numpy as np
import pytest

from synthetic_data.flush.flush_state import RINSING
from synthetic_data.flush.moves import DAY_MINUTES
from synthetic_data.illustrations.trace import JobTrace, trace_job
from synthetic_data.illustrations.trace_words import events, flush_minute, house_words, plan_words


@pytest.fixture(scope="module")
def trace() -> JobTrace:
    """A job of one day of the usual world in which one emitter at a time has the flow, from morning to after lunch."""
    for job in range(1, 40):
        found = trace_job("usual", 5, job, jobs=40)
        if (
            found.plans.isolation[0] == 0
            and found.plans.lunch_minutes[0] > 0
            and 14 * 60 < found.clock_min[-1] < DAY_MINUTES
        ):
            return found
    raise AssertionError("no such job")


def test_every_weighing_is_an_event_with_its_mass_and_time(trace):
    weighed = [event for event in events(trace) if event.kind == "weighing"]

    assert [event.clock_min for event in weighed] == sorted(trace.weighings.wall_min.tolist())
    assert sum(event.dry_kg for event in weighed) == pytest.approx(trace.weighings.dry_kg.sum())


def test_events_are_in_order_and_end_with_the_flow(trace):
    found = events(trace)

    assert [e.minute for e in found] == sorted(e.minute for e in found)
    assert found[-1].kind == "end"
    assert found[-1].minute == trace.minutes[-1]
    assert [e.minute for e in found if e.kind == "rinse"] == [int(np.argmax(trace.phase == RINSING))]
    assert [e.clock_min for e in found if e.kind == "lunch"] == [int(trace.plans.lunch_at_min[0])]


def test_the_flow_is_on_the_emitter_that_the_event_names(trace):
    turned = [event for event in events(trace) if event.kind == "focus"]

    assert len(turned) >= len(trace.emitter_kind)
    assert all(event.words == f"flow on emitter {trace.focus_emitter_no[event.minute]} alone" for event in turned)


def test_a_night_takes_no_flush_minutes():
    trace = next(t for t in (trace_job("usual", 5, job, jobs=40) for job in range(1, 41)) if t.flush.end.day[0] > 0)
    night = [event for event in events(trace) if event.kind == "night"]

    assert len(night) == trace.flush.end.day[0]
    assert trace.clock_min[night[0].minute + 1] - trace.clock_min[night[0].minute] > 600
    assert flush_minute(trace, trace.clock_min[[0, -1]]).tolist() == [0, trace.minutes[-1]]


def test_house_and_plan_are_told_with_their_numbers(trace):
    house, plan = " ".join(house_words(trace)), " ".join(plan_words(trace))

    assert f"{len(trace.emitter_kind)} emitters" in house
    assert f"{trace.loose_before_kg.sum() + trace.consolidated_before_kg.sum():.2f} kg of magnetite" in house
    assert f"every {trace.plans.weigh_minutes[0]:.0f} min" in plan
    assert "One at a time" in plan
