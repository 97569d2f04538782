"""One practice set, all else as it was."""

from dataclasses import fields

import numpy as np
import pytest

from synthetic_data.crew.practices import CONTRASTS, does, eligible, with_practice

MAY_CHANGE = {
    "heat_source": {"heat_source", "heater_kw"},
    "connection": {"connection"},
    "isolation": {"isolation", "dwell_minutes", "leave_wet_g_min"},
    "flow_reversed": {"reversed"},
}


@pytest.mark.parametrize("contrast", CONTRASTS, ids=lambda contrast: contrast.name)
@pytest.mark.parametrize("way", ["with_value", "without_value"])
def test_the_practice_is_set_in_every_job_and_nothing_else_moves(chunk, contrast, way):
    value = getattr(contrast, way)
    plans = with_practice(chunk.plans, contrast.column, value, chunk.houses, chunk.staff)
    moved = {
        item.name
        for item in fields(plans)
        if not np.array_equal(getattr(plans, item.name), getattr(chunk.plans, item.name))
    }

    assert does(plans, contrast.column, value).all()
    assert moved
    assert moved <= MAY_CHANGE.get(contrast.column, {contrast.column})


@pytest.mark.parametrize("contrast", CONTRASTS, ids=lambda contrast: contrast.name)
def test_a_job_that_did_so_anyway_keeps_its_plan(chunk, contrast):
    plans = with_practice(chunk.plans, contrast.column, contrast.with_value, chunk.houses, chunk.staff)
    did = does(chunk.plans, contrast.column, contrast.with_value)

    assert did.any()
    # about a week of pre-dose becomes just seven days
    for name in MAY_CHANGE.get(contrast.column, {contrast.column}) - {"predose_days"}:
        assert getattr(plans, name)[did] == pytest.approx(getattr(chunk.plans, name)[did])


def test_nobody_does_both_of_a_contrast(chunk):
    for contrast in CONTRASTS:
        both = does(chunk.plans, contrast.column, contrast.with_value) & does(
            chunk.plans, contrast.column, contrast.without_value
        )

        assert not both.any()


def test_only_a_filter_may_be_there_already(chunk):
    had = chunk.fouling.filter

    assert (eligible(CONTRASTS[0], had) == ~had).all()
    assert all(eligible(contrast, had).all() for contrast in CONTRASTS[1:])
