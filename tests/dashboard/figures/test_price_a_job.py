"""What the pictures of a quote show, and that their words agree with the numbers."""

from __future__ import annotations

import numpy as np
import pytest

from dashboard.figures import price_a_job as figures
from dashboard.theme import DARK, LIGHT
from models.quote.base.quote_result import Quote


def test_the_outline_of_a_log_normal_forecast_peaks_at_its_mode(quote: Quote) -> None:
    # The mode of a log-normal with median 2 and spread 0.5 is 2·exp(−0.25) = 1.558: textbook property.
    x, y = figures.density(quote.forecasts["magnetite_kg"].percentiles)

    assert x[np.argmax(y)] == pytest.approx(1.558, rel=0.08)  # 99 points, smoothed
    assert y.max() == pytest.approx(1.0)


def test_the_outline_holds_eight_in_ten_within_the_range(quote: Quote) -> None:
    forecast = quote.forecasts["magnetite_kg"]
    x, y = figures.density(forecast.percentiles)
    middle = (x >= forecast.quantiles.p10) & (x <= forecast.quantiles.p90)

    assert y[middle].sum() / y.sum() == pytest.approx(0.80, abs=0.03)  # smoothing widens it a little


def test_a_forecast_without_spread_is_still_drawn() -> None:
    x, y = figures.density([1.0] * 99)

    assert np.isfinite(y).all()
    assert x[np.argmax(y)] == pytest.approx(1.0, rel=0.02)


def test_kilograms_are_debris_and_hours_are_ink(quote: Quote) -> None:
    mass = figures.forecast_figure(quote.forecasts["magnetite_kg"], quote.similar_jobs, LIGHT)
    time = figures.forecast_figure(quote.forecasts["site_minutes"], quote.similar_jobs, DARK)

    assert mass.data[0].line.color == LIGHT.debris
    assert time.data[0].line.color == DARK.ink
    assert mass.layout.xaxis.title.text == "Magnetite, dry [kg]"
    assert time.layout.xaxis.title.text == "Time on site [h]"


def test_the_nearest_jobs_stand_at_what_they_gave(quote: Quote) -> None:
    figure = figures.forecast_figure(quote.forecasts["magnetite_kg"], quote.similar_jobs)

    near = next(trace for trace in figure.data if trace.name == "nearest past jobs")
    assert list(near.x) == pytest.approx([1.5, 1.9, 2.3])


def test_the_words_beside_a_forecast_carry_its_numbers(quote: Quote) -> None:
    alt = figures.forecast_alt(quote.forecasts["site_minutes"], quote.similar_jobs)

    # 320 min = 5 h 20; p90 = 320·exp(0.3·1.2816) = 470 min = 7 h 50
    assert "half of such jobs stay under 5 h 20" in alt
    assert "and 7 h 50" in alt


def test_the_price_asked_stands_on_the_curve(quote: Quote) -> None:
    figure = figures.loss_figure(quote.price)

    asked = next(trace for trace in figure.data if trace.mode == "markers")
    assert (asked.x[0], asked.y[0]) == pytest.approx((660.0, 10.0))
    assert "at £660 it is at most the accepted 10 %" in figures.loss_alt(quote.price)


def test_the_steps_lead_from_the_usual_job_to_this_one(quote: Quote) -> None:
    bars = figures.reasons_figure(quote.why[0]).data[0]

    ends = [base + length for base, length in zip(bars.base, bars.x, strict=True)]
    assert ends == pytest.approx([1.5, 2.3, 2.0, 2.0])
    assert list(bars.y) == ["A usual job", "Size", "Survey signs", "This job"]


def test_the_largest_reason_is_named_first(quote: Quote) -> None:
    assert "What moves it: size +0.80 kg, survey signs −0.30 kg." in figures.reasons_alt(quote.why[0])
