"""What the pictures of a catch show: measured, fitted, expected, each told apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dashboard.figures import watch_the_catch as figures
from dashboard.theme import EXPECTED, LIGHT, new_figure
from models.catch.records.job import JobCatch
from models.catch.records.watch_result import Watch
from models.catch.watch import watch
from models.quantiles import Quantiles


@pytest.fixture
def seen(running_job: JobCatch) -> Watch:
    return watch(running_job, running_job.last_at)


def test_the_measured_curve_ends_at_what_was_caught(running_job: JobCatch, seen: Watch) -> None:
    figure = figures.house_figure(running_job, seen)

    measured = next(trace for trace in figure.data if trace.name == "magnetite")
    # two emitters, each 1.0·(1 − exp(−48/20)) = 0.909 kg
    assert measured.y[-1] == pytest.approx(1.819, abs=0.001)
    assert measured.x[0] == measured.y[0] == 0.0
    assert measured.mode == "lines+markers"


def test_the_mass_axis_begins_at_nought_and_both_carry_units(running_job: JobCatch, seen: Watch) -> None:
    layout = figures.house_figure(running_job, seen).layout

    assert layout.yaxis.range[0] == 0
    assert layout.yaxis.title.text == "Caught, dry [kg]"
    assert layout.xaxis.title.text.endswith("[h]")


def test_what_is_expected_is_a_band_with_dashes(running_job: JobCatch, seen: Watch) -> None:
    left = Quantiles(0.1, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0)
    ahead = replace(seen, remaining_kg=left, level_off_minutes=Quantiles(100, 110, 130, 150, 170, 200, 220))

    figure = figures.house_figure(running_job, ahead)

    band = next(trace for trace in figure.data if trace.fill == "tonexty")
    middle = next(trace for trace in figure.data if trace.line.dash == EXPECTED)
    # by the end drawn, 95 % and more of the likely 0.4 kg has come
    assert 0.95 * left.p50 < middle.y[-1] - ahead.caught_kg < left.p50
    assert band.y[-1] > middle.y[-1]
    assert band.y[0] == pytest.approx(ahead.caught_kg)


def test_a_finished_job_shows_no_band(running_job: JobCatch, seen: Watch) -> None:
    figure = figures.house_figure(running_job, replace(seen, is_finished=True))

    assert all(trace.fill is None for trace in figure.data)


def test_other_debris_has_a_marker_of_its_own(running_job: JobCatch, seen: Watch) -> None:
    figure = figures.house_figure(running_job, seen)

    other = next(trace for trace in figure.data if trace.name == "other debris")
    assert list(other.y) == pytest.approx([0.0, 0.12])
    assert other.marker.symbol == "diamond-open"


def test_every_emitter_has_its_place_and_its_state(seen: Watch) -> None:
    figure = figures.emitters_figure(seen.emitters)

    assert list(figure.data[0].y) == ["1", "2", "3"]
    assert figure.data[0].x == pytest.approx((0.909, 0.909, 0.0), abs=0.001)
    assert figure.data[-1].text[2] == " not started"


def test_small_curves_show_the_fit_that_made_them(running_job: JobCatch, seen: Watch) -> None:
    figure = figures.emitter_curves_figure(running_job, seen.emitters)

    measured = [trace for trace in figure.data if trace.mode == "lines+markers"]
    assert len(measured) == 3
    assert measured[0].y[-1] == pytest.approx(0.909, abs=0.001)
    assert [note.text for note in figure.layout.annotations][2] == "3 · not started"


def test_the_fitted_curve_is_the_published_form(seen: Watch) -> None:
    fit = seen.emitters[0].fit
    assert fit is not None

    # 1.0·(1 − exp(−20/20)) = 0.6321 at one time constant: the curve that the weighings lie on exactly
    assert figures.saturating(np.array([20.0]), fit)[0] == pytest.approx(0.6321, abs=1e-3)


def test_the_words_carry_the_numbers(seen: Watch) -> None:
    assert figures.house_alt(seen).startswith("1.8 kg of magnetite caught in 1 h 36.")
    assert "Other debris: 0.12 kg." in figures.house_alt(seen)
    assert "emitter 3 0 kg, not started" in figures.emitters_alt(seen.emitters)


def test_the_table_holds_one_row_an_emitter(seen: Watch) -> None:
    rows = figures.watch_rows(seen)

    assert [row["Emitter"] for row in rows] == [1, 2, 3]
    assert rows[0]["Caught, dry [kg]"] == pytest.approx(0.909)


def test_the_time_of_levelling_off_stands_above_the_row_of_emitter_numbers(running_job: JobCatch, seen: Watch) -> None:
    figure = figures.house_figure(running_job, seen)

    (note,) = [each for each in figure.layout.annotations if each.text.startswith("levels off")]
    assert (note.yref, note.y, note.yanchor, note.yshift) == ("paper", 1.0, "bottom", figures.NUMBERS_PX)
    assert figure.layout.margin.t >= 2 * figures.NUMBERS_PX  # both rows have room


@pytest.mark.parametrize(("end", "side"), [(100.0, "right"), (1000.0, "left")])
def test_a_curve_at_the_left_edge_is_named_beneath_so_that_the_axis_stays_clear(end: float, side: str) -> None:
    figure, minutes, kg = new_figure(LIGHT), np.array([20.0, 60.0, 90.0]), np.array([0.1, 0.4, 0.5])

    figures._measured(figure, minutes, kg, "magnetite", LIGHT, "circle", "linear", end)

    assert figure.layout.annotations[0].xanchor == side
