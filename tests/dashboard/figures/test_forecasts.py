"""Scores as pictures: coverage, error beside peers, where outcomes fell; and jobs by month."""

from __future__ import annotations

import pandas as pd
import pytest
from scipy.stats import binom, binomtest

from dashboard.figures import about_the_data, forecast_periods, forecasts
from dashboard.figures.axes import MOST_TICKS, hours_axis, mass_axis
from models.quote.backtest import TargetScores


def test_coverage_stands_in_percent_overall_first(scores: TargetScores) -> None:
    figure = forecasts.coverage_figure(scores)

    assert list(figure.data[0].x) == pytest.approx([81.0, 84.0, 76.5])
    assert list(figure.data[1].x) == pytest.approx([91.0, 93.0, 88.0])
    assert figure.layout.yaxis.ticktext[0] == "all jobs (100)"
    assert figure.data[0].marker.symbol != figure.data[1].marker.symbol


def test_limits_are_drawn_and_the_band_is_three_points_for_all_and_six_for_a_group(scores: TargetScores) -> None:
    figure = forecasts.coverage_figure(scores)

    # 81 of 100: exact limits 71.9 to 88.2 % (Clopper-Pearson; scipy's binomtest agrees)
    low, high = (binomtest(81, 100).proportion_ci(method="exact").low, binomtest(81, 100).proportion_ci().high)
    assert figure.data[0].error_x.arrayminus[0] == pytest.approx(81 - 100 * low)
    assert figure.data[0].error_x.array[0] == pytest.approx(100 * high - 81)
    bands = [(shape.x0, shape.x1) for shape in figure.layout.shapes if shape.type == "rect"]
    assert bands[0] == pytest.approx((77.0, 83.0))
    assert bands[1] == pytest.approx((74.0, 86.0))


def test_even_bars_stay_in_the_band_of_chance(scores: TargetScores) -> None:
    band = next(shape for shape in forecasts.pit_figure(scores).layout.shapes if shape.type == "rect")

    # 100 outcomes in 10 parts: 2.5 % / 10 at either end of a binomial with mean 10
    assert (band.y0, band.y1) == (binom.ppf(0.0025, 100, 0.1), binom.ppf(0.9975, 100, 0.1))
    assert "0 tenths outside" in forecasts.pit_alt(scores)


def test_periods_stand_in_order_with_every_peer_named(scores: TargetScores) -> None:
    figure = forecast_periods.loss_figure(scores)

    own = next(line for line in figure.data if line.name == "this forecast")
    assert list(own.y) == [0.26, 0.22]
    assert {note.text for note in figure.layout.annotations} == {"this forecast", "kg an emitter", "straight line"}
    assert "in 1 of 2 periods" in forecast_periods.loss_alt(scores)


def test_coverage_by_period_marks_where_ranges_were_reset(scores: TargetScores) -> None:
    figure = forecast_periods.coverage_figure(scores)

    assert list(figure.data[0].y) == pytest.approx([82.0, 80.0])
    assert list(figure.data[0].marker.symbol) == ["circle", "diamond-open"]
    assert "ranges reset after a drift" in forecast_periods.coverage_alt(scores)


def test_the_worst_group_is_named(scores: TargetScores) -> None:
    assert "Lowest among groups: open-vented, 76 %" in forecasts.coverage_alt(scores)


def test_the_forecast_stands_beside_its_peers(scores: TargetScores) -> None:
    bars = forecasts.error_figure(scores).data[0]

    assert list(bars.x) == pytest.approx([0.24, 0.36, 0.30])
    assert list(bars.y) == ["this forecast", "kilograms an emitter", "straight-line model"]
    assert "of this forecast 0.240 kg" in forecasts.error_alt(scores)


def test_outcomes_by_tenth_are_shares_of_jobs(scores: TargetScores) -> None:
    bars = forecasts.pit_figure(scores).data[0]

    assert sum(bars.y) == pytest.approx(100.0)
    assert bars.y[0] == pytest.approx(12.0)
    assert "between 8 % and 13 %" in forecasts.pit_alt(scores)


def test_the_table_says_by_how_much_the_forecast_is_better(scores: TargetScores) -> None:
    (row,) = forecasts.score_rows({"magnetite_kg": scores})

    assert (row["Best peer"], row["Better by [%]"]) == ("straight-line model", 20.0)


@pytest.mark.parametrize("minutes", [10, 59, 61, 200, 480, 1400, 7200])
def test_hour_marks_never_crowd(minutes: float) -> None:
    axis = hours_axis(minutes, "Flush time")

    assert 1 <= len(axis["ticktext"]) <= MOST_TICKS + 1  # type: ignore[arg-type]
    assert axis["range"] == [0, minutes]


def test_a_mass_axis_begins_at_nought_even_when_nothing_was_caught() -> None:
    low, high = mass_axis(0.0, "Caught")["range"]  # type: ignore[misc]

    assert low == 0
    assert high > 0


def test_simulated_jobs_are_counted_apart() -> None:
    months = pd.DataFrame({"month": pd.to_datetime(["2030-01-01", "2030-02-01"]), "real": [1, 2], "simulated": [4, 0]})

    figure = about_the_data.visits_figure(months)

    assert [list(bar.y) for bar in figure.data] == [[1, 2], [4, 0]]
    assert about_the_data.visits_alt(months).endswith("3 own jobs and 4 simulated jobs.")
