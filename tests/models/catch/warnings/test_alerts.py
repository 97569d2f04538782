"""Each warning fires on the case it is for, and stays quiet on a plain curve."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from models.catch.watch import JobCatch, watch

Build = Callable[..., JobCatch]


def codes(job: JobCatch) -> list[str]:
    return [finding.code for finding in watch(job).findings]


def test_a_plain_curve_past_its_half_gives_no_warning(house: Build) -> None:
    assert codes(house(6)) == []


def test_a_house_curve_under_half_of_its_asymptote_is_said_to_be(house: Build) -> None:
    seen = watch(house(5, tau=300.0))

    assert [finding.code for finding in seen.findings] == ["under_half_of_asymptote"]
    # 1 − e^(−100/300) of the planted curve
    assert seen.findings[0].facts["share_reached"] == pytest.approx(0.283, abs=5e-4)
    assert "weigh on before trusting it" in seen.findings[0].sentence


def test_a_house_with_too_few_points_for_a_fit_is_judged_by_the_forecast(house: Build) -> None:
    seen = watch(house(3, tau=300.0))

    assert seen.fit is None
    assert [finding.code for finding in seen.findings] == ["under_half_of_asymptote"]


def test_a_house_that_has_levelled_off_is_told_to_move_on_or_stop(house: Build) -> None:
    seen = watch(house(14, tau=60.0))

    assert [finding.code for finding in seen.findings] == ["levelled_off"]
    # the last 20 minutes of the planted curve: 4 kg · (e^(−260/60) − e^(−280/60)) = 14.9 g
    assert seen.findings[0].facts["latest_g"] == pytest.approx(14.9, abs=0.05)
    assert "the last 20 minutes gave 15 g" in seen.findings[0].sentence
    assert "Check first" in seen.findings[0].sentence


def test_a_flush_that_has_ended_gets_no_advice_on_where_to_send_the_flow(house: Build) -> None:
    job = house(14, tau=60.0)

    assert codes(replace(job, ended_at=job.last_at)) == []


def test_an_emitter_that_has_levelled_off_is_named(by_hand: Build) -> None:
    job = by_hand([(10, 1, 200.0), (20, 1, 90.0), (30, 2, 300.0), (40, 2, 25.0), (50, 2, 4.0)], emitters=6)

    assert [f.sentence[:28] for f in watch(job).findings] == ["Emitter 2 has levelled off: "]


def test_catches_that_grow_are_said_to_rise(by_hand: Build) -> None:
    job = by_hand([(20, None, 100.0), (40, None, 100.0), (60, None, 300.0), (80, None, 320.0)])

    rise = next(finding for finding in watch(job).findings if finding.code == "catch_rises")
    assert rise.facts == pytest.approx({"latest_g_min": 16.0, "before_g_min": 5.0})


def test_one_large_catch_alone_is_not_a_rise(by_hand: Build) -> None:
    job = by_hand([(20, None, 300.0), (40, None, 200.0), (60, None, 140.0), (80, None, 500.0)])

    assert "catch_rises" not in codes(job)


def test_a_new_emitter_that_gives_more_than_the_last_is_not_a_rise(by_hand: Build) -> None:
    job = by_hand([(10, 1, 50.0), (20, 1, 20.0), (30, 2, 600.0), (40, 2, 400.0)], emitters=3)

    assert "catch_rises" not in codes(job)


def test_rises_are_rare_on_lumpy_but_normal_curves(house: Build) -> None:
    rises = sum("catch_rises" in codes(house(7, cv=0.3, seed=seed)) for seed in range(200))

    # two lumps in a row half as high again as a falling curve: at most 2 in 100 normal moments
    assert rises <= 4
