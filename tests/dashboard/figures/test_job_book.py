"""One job's readings."""

from __future__ import annotations

import pandas as pd
import pytest

from dashboard.figures import job_book as figures
from dashboard.theme import LIGHT


def test_heat_is_plum_and_return_is_dotted() -> None:
    readings = pd.DataFrame(
        {
            "read_at": pd.to_datetime(["2031-03-04T09:00", "2031-03-04T09:15"]),
            "flow_temp_c": [20.0, 45.0],
            "return_temp_c": [18.0, 35.0],
        }
    )

    figure = figures.heat_figure(readings)

    assert [(t.name, t.line.color, t.line.dash) for t in figure.data] == [
        ("flow", LIGHT.heat, "solid"),
        ("return", LIGHT.heat, "dot"),
    ]
    assert figures.readings_alt(readings, "flow_temp_c", "Flow temperature", "°C").endswith("20 and 45 °C, last 45 °C.")


@pytest.mark.parametrize(("flow", "back", "upper"), [(21, 21, "flow"), (50, 20, "flow"), (30, 31, "return")])
def test_names_of_flow_and_return_stand_behind_their_lines_and_never_on_one_another(
    flow: float, back: float, upper: str
) -> None:
    readings = pd.DataFrame(
        {
            "read_at": pd.to_datetime(["2031-03-04T09:00", "2031-03-04T09:15"]),
            "flow_temp_c": [20.0, flow],
            "return_temp_c": [50.0, back],
        }
    )
    names = figures.heat_figure(readings).layout.annotations
    px_per_k = (figures.HEIGHT - figures.AXES_PX) / 30.0  # from 20 to 50 °C

    places = {name.text: px_per_k * name.y + name.yshift for name in names}

    assert [(name.xref, name.x) for name in names] == [("paper", 1.0)] * 2
    assert max(places, key=lambda name: places[name]) == upper
    assert abs(places["flow"] - places["return"]) >= figures.NAME_PX - 0.01


def test_a_lone_line_of_heat_is_named_where_it_ends() -> None:
    readings = pd.DataFrame(
        {"read_at": pd.to_datetime(["2031-03-04T09:00"]), "flow_temp_c": [40.0], "return_temp_c": [float("nan")]}
    )

    (name,) = figures.heat_figure(readings).layout.annotations

    assert (name.text, name.y, name.yshift) == ("flow", 40.0, 0.0)
