"""Many debris curves laid over one another: lines, bands, the chosen job, and the same in words."""

from __future__ import annotations

import numpy as np
import pytest

from dashboard.figures import debris_curves as figures
from dashboard.theme import LIGHT
from models.catch.band import as_share, band, packed, picked
from models.catch.records.ragged_arrays import Ragged


@pytest.fixture
def many() -> Ragged:
    """Eleven jobs that end at 1, 2, …, 11 kg: half at 60, three quarters at 120, all at 180 minutes."""
    place = np.repeat(np.arange(11), 3)
    return packed(np.tile([60.0, 120.0, 180.0], 11), (place + 1.0) * np.tile([0.5, 0.75, 1.0], 11), place, 11)


def chosen(many: Ragged, place: int) -> figures.Chosen:
    return figures.Chosen(f"J{place + 1}", picked(many, np.array([place])))


def test_all_curves_are_one_line_with_gaps_and_the_chosen_one_is_strong(many: Ragged) -> None:
    job = chosen(many, 2)
    frame = figures.frame_of(many, is_share=False, chosen=job)

    figure = figures.overlay_figure(many, band(many), job, frame)

    thin, strong = figure.data[0], figure.data[-1]
    assert list(thin.y[:5]) == pytest.approx([0.0, 0.5, 0.75, 1.0, np.nan], nan_ok=True)
    assert np.isnan(np.asarray(thin.x, dtype=float)).sum() == 11
    assert list(strong.y) == pytest.approx([0.0, 1.5, 2.25, 3.0])
    assert strong.line.color == LIGHT.text
    assert figure.layout.yaxis.range[0] == 0


def test_the_bands_are_the_quantiles_over_jobs_and_the_words_carry_them(many: Ragged) -> None:
    job = chosen(many, 2)
    frame = figures.frame_of(many, is_share=False, chosen=job)
    figure = figures.overlay_figure(many, band(many), job, frame)

    # eleven equally spaced ends: the quantiles 0.1, 0.25, 0.5, 0.75, 0.9 lie at the 2nd, 3.5th, 6th, 8.5th, 10th
    assert [figure.data[at].y[-1] for at in (1, 3, 5, 4, 2)] == pytest.approx([2.0, 3.5, 6.0, 8.5, 10.0])
    alt = figures.overlay_alt(11, band(many), job, frame)
    assert "Of 11 similar jobs the middle one ends at 6.0 kg, 8 in 10 between 2.0 kg and 10 kg." in alt
    assert "Job J3 ends at 3.0 kg." in alt


@pytest.fixture
def unlike() -> Ragged:
    """Eleven jobs that end at 11, 10, …, 1 kg by minute 180. Of its own, job k (0 … 10) had 5·k % by minute 60 and
    50 % + 5·k % by minute 120."""
    place = np.repeat(np.arange(11), 3)
    shares = np.stack([0.05 * np.arange(11), 0.5 + 0.05 * np.arange(11), np.ones(11)], axis=1)
    return packed(np.tile([60.0, 120.0, 180.0], 11), (shares * (11.0 - np.arange(11))[:, None]).ravel(), place, 11)


def test_shares_run_to_a_hundred_percent_and_the_band_is_that_of_shares_that_differ(unlike: Ragged) -> None:
    shares = as_share(unlike)
    frame = figures.frame_of(shares, is_share=True)

    figure = figures.overlay_figure(shares, band(shares, steps=7), None, frame)

    assert np.nanmax(np.asarray(figure.data[0].y, dtype=float)) == 100.0
    assert "[%]" in figure.layout.yaxis.title.text
    # steps of 30 minutes: at 60 shares of 0, 5, …, 50 %, at 120 of 50, 55, …, 100 %: the quantiles 0.1, 0.25, 0.5,
    # 0.75, 0.9 of eleven lie at the 2nd, 3.5th, 6th, 8.5th, 10th
    at_60, at_120 = ([figure.data[number].y[at] for number in (1, 3, 5, 4, 2)] for at in (2, 4))
    assert at_60 == pytest.approx([5.0, 12.5, 25.0, 37.5, 45.0])
    assert at_120 == pytest.approx([55.0, 62.5, 75.0, 87.5, 95.0])


def test_the_words_say_when_half_had_come_to_the_early_the_middle_and_the_late(unlike: Ragged) -> None:
    # 90 % line: 45 % at 60, 95 % at 120, so half at 66; middle: 25 % and 75 %, half at 90; 10 %: 5 and 55 %, half at
    # 114. The grid of 61 steps is 3 minutes wide: 66, 90 and 114 are on it
    shares = as_share(unlike)

    assert figures.band_words(band(shares), figures.frame_of(shares, is_share=True)) == (
        "the middle one had half of it after 1 h 30, 8 in 10 between 1 h 06 and 1 h 54"
    )


def test_a_panel_draws_its_group_beside_the_middle_of_all_and_only_one_names_the_parts(many: Ragged) -> None:
    heavy = picked(many, np.arange(3, 11))
    frame = figures.frame_of(many, is_share=False, bands=(band(many), band(heavy)))
    panel = figures.Panel("9 to 14 emitters", heavy, band(heavy))

    named, plain = (figures.panel_figure(panel, band(many), frame, is_named=named) for named in (True, False))

    # 4 … 11 kg: the middle lies at 7.5; all eleven: 6
    assert (named.data[5].y[-1], named.data[6].y[-1]) == pytest.approx((7.5, 6.0))
    assert [note.text for note in named.layout.annotations] == ["8 in 10 of the group", "the middle one", "all jobs"]
    assert len(plain.layout.annotations) == 0
    assert "9 to 14 emitters, 8 jobs: the middle one ends at 7.5 kg" in figures.panel_alt(panel, band(many), frame)


def test_the_frame_holds_bands_and_the_chosen_job_but_not_the_outermost_lines(many: Ragged) -> None:
    odd = packed(np.array([60.0] * 99 + [6000.0]), np.array([1.0] * 99 + [90.0]), np.arange(100), 100)

    frame = figures.frame_of(odd, is_share=False)
    wide = figures.frame_of(odd, is_share=False, chosen=figures.Chosen("J", picked(odd, np.array([99]))))

    assert (frame.longest, frame.top) == pytest.approx((60.0, 1.0))
    assert (wide.longest, wide.top) == (6000.0, 90.0)
