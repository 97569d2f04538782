"""Below the house curve: where the flow was, flow and heat up to the moment looked at, marks of warnings."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pandas as pd
import pytest

from dashboard.figures.watch_strips import Strips, add_strips, strips_alt, strips_of
from dashboard.figures.watch_the_catch import house_figure
from dashboard.theme import LIGHT
from models.catch.records.job import JobCatch
from models.catch.watch import watch
from pipeline.contract.findings import Finding


@pytest.fixture
def strips(running_job: JobCatch) -> Strips:
    """Readings every 24 min; the last lies after the moment looked at. One warning that says when it arose."""
    at = [running_job.started_at + timedelta(minutes=24 * n) for n in range(6)]
    readings = pd.DataFrame(
        {
            "read_at": at,
            "flow_l_min": [20.0, 21.0, None, 18.0, 17.0, 5.0],
            "flow_temp_c": [None] * 6,
            "return_temp_c": [None] * 6,
        }
    )
    seen = watch(running_job, running_job.last_at)
    warned = replace(seen, findings=(Finding("flow_falls", "Flow falls.", {"since_minutes": 72.0}),))
    return strips_of(running_job, readings, warned)


def test_the_flow_was_on_one_emitter_and_then_on_the_other(strips: Strips) -> None:
    assert strips.focus == ((0.0, 48.0, 1), (48.0, 96.0, 2))


def test_what_was_read_later_is_not_known_yet(strips: Strips) -> None:
    assert strips.minutes.tolist() == [0.0, 24.0, 48.0, 72.0, 96.0]


def test_a_strip_is_drawn_for_what_was_read_only(running_job: JobCatch, strips: Strips) -> None:
    plain = house_figure(running_job, watch(running_job, running_job.last_at))
    height = plain.layout.height

    figure = add_strips(plain, strips, LIGHT)

    (flow,) = [trace for trace in figure.data if trace.yaxis == "y2"]
    assert list(flow.y) == [20.0, 21.0, 18.0, 17.0]
    assert figure.layout.height > height
    assert figure.layout.yaxis.domain[0] > figure.layout.yaxis2.domain[1]
    assert "y3" not in {trace.yaxis for trace in figure.data}


def test_a_warning_is_marked_where_it_arose(running_job: JobCatch, strips: Strips) -> None:
    figure = add_strips(house_figure(running_job, watch(running_job, running_job.last_at)), strips, LIGHT)

    (marks,) = [trace for trace in figure.data if trace.name == "warning"]
    assert list(marks.x) == [72.0]
    assert list(marks.text) == ["<b>!</b>"]


def test_the_words_carry_the_numbers(strips: Strips) -> None:
    words = strips_alt(strips)

    assert words == "The flow was on emitter 1 and emitter 2. Flow 17 to 21 L/min, last 17. 1 warning marked."
