"""One job's readings."""

from __future__ import annotations

import pandas as pd

from dashboard.figures import job_book as figures
from dashboard.theme import LIGHT


def test_heat_is_plum_and_return_is_dashed() -> None:
    readings = pd.DataFrame(
        {"read_at": pd.to_datetime(["2031-03-04T09:00", "2031-03-04T09:15"]), "flow_temp_c": [20.0, 45.0],
         "return_temp_c": [18.0, 35.0]}
    )  # fmt: skip

    figure = figures.heat_figure(readings)

    assert [(t.name, t.line.color, t.line.dash) for t in figure.data] == [
        ("flow", LIGHT.heat, "solid"), ("return", LIGHT.heat, "dash"),
    ]  # fmt: skip
    assert figures.readings_alt(readings, "flow_temp_c", "Flow temperature", "°C").endswith("20 and 45 °C, last 45 °C.")
