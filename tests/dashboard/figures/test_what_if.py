"""The picture of other plans: bars from nought, words that agree with the numbers."""

from __future__ import annotations

import pytest

from dashboard.figures import what_if as figures
from dashboard.theme import LIGHT
from models.quote.offers.what_if import WhatIf

CHANGES = (
    WhatIf("predose_days", "0", "7", 60, 0.2, -30.0, -24.0, -0.01, -15.0),
    WhatIf("heat_source", "boiler", "both", 40, -0.05, 6.0, 90.0, 0.02, 60.0),
    WhatIf("heat_source", "boiler", "none", 87, -0.3, 0.0, 0.0, 0.0, 0.0),
)


def test_a_bar_for_each_plan_from_nought_in_the_unit_of_its_axis() -> None:
    hours = figures.what_if_figure(CHANGES, "site_minutes", "GBP", LIGHT)
    kilos = figures.what_if_figure(CHANGES, "magnetite_kg", "GBP", LIGHT)

    assert list(hours.data[0].x) == pytest.approx([-0.4, 1.5, 0.0])
    assert list(kilos.data[0].x) == pytest.approx([0.2, -0.05, -0.3])
    low, high = hours.layout.xaxis.range
    assert low == -high
    assert "[h]" in hours.layout.xaxis.title.text


def test_labels_stand_on_the_side_of_their_bar() -> None:
    notes = figures.what_if_figure(CHANGES, "price", "GBP", LIGHT).layout.annotations

    assert [note.text for note in notes] == ["−£15", "+£60", "±£0"]
    assert [note.xanchor for note in notes] == ["right", "left", "left"]


def test_the_words_name_the_largest_change_first() -> None:
    said = figures.what_if_alt(CHANGES, "price", "GBP")

    assert said == (
        "Change from the plan as it stands: Heat: boiler and heater +£60; Pre-dose: 7 days −£15; Heat: none ±£0."
    )


def test_the_plan_as_it_stands_is_said_once_a_practice() -> None:
    unsaid = WhatIf("agitation", None, "vibration", 20, 0.0, 0.0, 0.0, 0.0, 0.0)

    assert figures.planned_names((*CHANGES, unsaid)) == ["pre-dose none", "heat boiler"]
    assert figures.planned_names((unsaid,)) == []


def test_no_change_at_all_is_still_drawn() -> None:
    still = (CHANGES[2],)

    assert figures.what_if_figure(still, "price", "GBP", LIGHT).layout.xaxis.range[1] > 0
