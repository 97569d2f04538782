"""Features against sums worked by hand; the logs are in tests/data/hand_written."""

from __future__ import annotations

import math
from collections.abc import Callable

import pandas as pd
import pytest

from pipeline.intake.load import load
from pipeline.store.book import Book
from tests.pipeline.conftest import CATCHES_HEAD, JOB_A, JOBS_HEAD, Row, WriteLog


def test_volume_from_emitters_and_pipe_runs_is_the_hand_sum(hand_row: Row) -> None:
    # panel_11 600 mm holds 2.8/3.15/3.5 L/m, panel_22 600 mm 5.6/6.25/6.9 L/m (contents table, from memory)
    emitters = 3.15 * (1.0 + 1.4) + 6.25 * 0.8
    pipes = math.pi / 4 * (0.0202**2 * 30 + 0.0136**2 * 60) * 1000  # EN 1057 bores 20.2 and 13.6 mm: 18.33 L
    got = hand_row("ftr_volume", "H-01")

    assert pipes == pytest.approx(18.33, abs=0.005)
    assert got["emitter_volume_mid_l"] == pytest.approx(emitters)
    assert got["pipe_volume_mid_l"] == pytest.approx(pipes)
    assert got["system_volume_l"] == pytest.approx(emitters + pipes + 2.0)  # a combi holds about 2 L (assumption)
    assert got["system_volume_method"] == "emitters_and_pipe_runs"
    assert got["system_volume_low_l"] < got["system_volume_l"] < got["system_volume_high_l"]


def test_volume_without_pipe_runs_takes_the_stated_rule(hand_row: Row) -> None:
    got = hand_row("ftr_volume", "H-03")

    assert got["pipe_volume_mid_l"] == pytest.approx(2 * 1.8)  # two-pipe: 1.8 L an emitter (assumption)
    assert got["system_volume_l"] == pytest.approx(3.15 * 1.4 + 3.6 + 2.0)
    assert got["system_volume_method"] == "emitters_and_pipe_rule"


def test_masses_are_dry_by_the_ratio_of_the_settings(hand_row: Row) -> None:
    got = hand_row("ftr_outcome", "H-01")

    assert got["magnetite_kg"] == pytest.approx((420 + 210 + 90 + 260 + 110 + 80) / 2.0 / 1000)
    assert got["non_magnetic_kg"] == pytest.approx(60 / 1.25 / 1000)  # not tried with a magnet: as sand is
    assert (got["wet_dry_ratio"], got["wet_dry_method"]) == (2.0, "firm_toml")


def test_times_and_shares_of_a_one_day_job(hand_row: Row) -> None:
    got = hand_row("ftr_outcome", "H-01")

    assert got["flush_minutes"] == 270.0  # 09:30 to 14:00
    assert got["site_minutes"] == 385.0  # 08:40 to 15:05
    assert got["flow_share"] == pytest.approx((18 + 18 + 17 + 22) / 4 / 40)
    assert got["focus_share"] == pytest.approx(3 / 4)
    assert got["rinse_closeness"] == pytest.approx(335 / 310 - 1)


def test_nights_are_left_out_of_a_two_day_job(hand_row: Row) -> None:
    got = hand_row("ftr_outcome", "H-04")

    # day one 09:00 to the last weighing 16:00, day two from the first reading 09:30 to 13:00
    assert got["flush_minutes"] == 420.0 + 210.0
    assert got["site_minutes"] == 45.0 + 630.0 + 60.0
    assert got["is_second_day"] is True


def test_heat_used_is_the_trapezoid_above_twenty_degrees(hand_row: Row) -> None:
    got = hand_row("ftr_heat", "H-01")
    volume = hand_row("ftr_volume", "H-01")["system_volume_l"]

    assert got["degree_hours_above_20_c"] == pytest.approx(1 * 20 + 1 * 40 + 2 * 35)
    assert got["water_only_energy_kwh"] == pytest.approx(volume * 4.1868 * 40 / 3600, rel=1e-3)


def test_heat_of_a_two_day_job_does_not_span_the_night(hand_row: Row) -> None:
    # 6 h from 40 to 60 °C on day one, 3 h from 30 to 60 °C on day two
    assert hand_row("ftr_heat", "H-04")["degree_hours_above_20_c"] == pytest.approx(6 * 30 + 3 * 25)


def test_survey_and_plan_features(hand_row: Row) -> None:
    got = hand_row("ftr_quote", "H-01")

    assert (got["age_years"], got["years_since_clean"], got["predose_days"]) == (26.0, 26.0, 7.0)
    assert (got["cold_count"], got["emitter_count"], got["long_emitter_count"]) == (1, 3, 0)
    assert got["cold_share"] == pytest.approx(1 / 3)
    assert got["upstairs_share"] == pytest.approx(1 / 3)
    assert got["conductivity_excess_us_cm"] == 310.0
    assert hand_row("ftr_quote", "H-05")["water_known"] is False


def test_curve_of_an_emitter_counts_the_minutes_with_the_flow_on_it(
    hand_report: tuple[Book, object], frame_of: Callable[[Book, str], pd.DataFrame]
) -> None:
    curve = frame_of(hand_report[0], "ftr_emitter_curve")
    got = curve[(curve["firm_id"] == "own") & (curve["job_id"] == "H-01") & (curve["emitter_no"] == 2)]

    assert got["focus_minutes"].tolist() == [40.0, 80.0]  # since the last magnet weighing, 11:00
    assert got["cumulative_magnetite_kg"].tolist() == pytest.approx([0.130, 0.185])


def test_callback_within_the_year_and_its_day(hand_row: Row) -> None:
    got = hand_row("ftr_callback", "H-02")  # visit 27 March, cold emitter 15 August: 4 + 30 + 31 + 30 + 31 + 15
    assert (got["first_debris_day"], got["has_debris_callback_365"]) == (141, True)


def test_a_leak_is_no_debris_callback(hand_row: Row) -> None:
    got = hand_row("ftr_callback", "H-08")
    assert pd.isna(got["first_debris_day"])
    assert (got["first_other_day"], got["has_debris_callback_365"]) == (166, False)


def test_a_short_follow_up_is_censored_not_called_clean(
    book: Book, write_log: WriteLog, frame_of: Callable[[Book, str], pd.DataFrame]
) -> None:
    load([write_log(jobs=[JOBS_HEAD + ",followed_until", JOB_A + ",2025-06-04"])], book)
    (got,) = frame_of(book, "ftr_callback").to_dict("records")

    assert (got["followed_days"], got["observed_days"], got["is_censored_365"]) == (92, 92, True)
    assert pd.isna(got["has_debris_callback_365"])


def test_a_trap_weighed_both_ways_sets_the_ratio_and_counts_once(
    book: Book, write_log: WriteLog, frame_of: Callable[[Book, str], pd.DataFrame]
) -> None:
    catches = [f"{CATCHES_HEAD},weighed", "a,1,2025-03-04T10:00,magnet,500,wet", "a,2,2025-03-04T10:00,magnet,200,dry"]
    catches.append("a,3,2025-03-04T11:00,magnet,250,")
    load([write_log(jobs=[JOBS_HEAD, JOB_A], catches=catches)], book)
    (got,) = frame_of(book, "ftr_outcome").to_dict("records")

    assert got["wet_dry_ratio"] == pytest.approx(2.5)
    assert got["wet_dry_method"] == "weighed_both_ways"
    assert got["magnetite_kg"] == pytest.approx(0.200 + 0.250 / 2.5)
    assert got["magnet_catches"] == 2


def test_not_weighed_is_not_known_never_zero(
    book: Book, write_log: WriteLog, frame_of: Callable[[Book, str], pd.DataFrame]
) -> None:
    load([write_log(jobs=[JOBS_HEAD, JOB_A])], book)
    (got,) = frame_of(book, "ftr_outcome").to_dict("records")

    assert pd.isna(got["magnetite_kg"])
    assert pd.isna(got["non_magnetic_kg"])
    assert pd.isna(got["site_minutes"])


@pytest.mark.parametrize(
    ("height_mm", "litres"),
    [
        (600, 3.15),  # a tabulated height
        (550, 2.925),  # half way between 500 (2.7) and 600 (3.15)
        (200, 1.75),  # below the table: its lowest row
    ],
)
def test_contents_between_tabulated_heights(
    height_mm: int, litres: float, book: Book, write_log: WriteLog, frame_of: Callable[[Book, str], pd.DataFrame]
) -> None:
    emitters = ["job_id,emitter_no,emitter_kind,height_mm,length_mm", f"a,1,panel_11,{height_mm},1000"]
    load([write_log(jobs=[JOBS_HEAD, JOB_A], emitters=emitters)], book)
    assert frame_of(book, "ftr_emitter")["content_mid_l"].item() == pytest.approx(litres)
