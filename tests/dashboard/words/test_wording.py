"""Numbers read the same everywhere."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from dashboard.words import wording
from models.quantiles import Quantiles

NAN = float("nan")
UNKNOWN = "not known"


@pytest.mark.parametrize(
    ("value", "said"),
    [(2.13, "2.1 kg"), (0.0, "0 kg"), (0.523, "0.52 kg"), (0.0049, "under 0.01 kg"), (13.5, "14 kg"), (NAN, UNKNOWN)],
)
def test_kilograms_carry_two_figures(value: float, said: str) -> None:
    assert wording.kilograms(value) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(320, "5 h 20"), (305, "5 h 05"), (60, "1 h"), (59.4, "59 min"), (119.6, "2 h"), (None, "not known")],
)
def test_times_are_said_in_hours_and_minutes(minutes: float | None, said: str) -> None:
    assert wording.duration(minutes) == said


@pytest.mark.parametrize(
    ("amount", "currency", "said"),
    [
        (1234.5, "GBP", "£1,234"),
        (-0.4, "GBP", "£0"),
        (-12, "EUR", "−€12"),
        (705, "NOK", "705\u00a0kr"),
        (7, "XYZ", "7\u00a0XYZ"),
    ],
)
def test_money_is_whole_and_in_its_own_currency(amount: float, currency: str, said: str) -> None:
    assert wording.money(amount, currency) == said


def test_a_range_holds_eight_in_ten() -> None:
    forecast = Quantiles(0.9, 1.2, 1.6, 2.1, 2.9, 3.9, 5.0)

    assert wording.kilograms_range(forecast) == "2.1 kg (1.2 to 3.9)"


def test_a_range_of_time_is_said_in_hours() -> None:
    forecast = Quantiles(200, 250, 280, 320, 370, 420, 480)

    assert wording.duration_range(forecast) == "5 h 20 (4 h 10 to 7 h)"


def test_a_range_never_begins_below_nought() -> None:
    assert wording.kilograms_range(Quantiles(-1, -0.5, 0, 0.2, 0.3, 0.4, 0.5)) == "0.20 kg (0 to 0.40)"


@pytest.mark.parametrize(
    ("value", "said"), [(0.0, "0 %"), (0.001, "under 1 %"), (0.104, "10 %"), (0.999, "over 99 %"), (1.0, "100 %")]
)
def test_a_share_is_never_a_false_nought_or_whole(value: float, said: str) -> None:
    assert wording.share(value) == said


def test_changes_carry_their_sign() -> None:
    assert (wording.signed_kilograms(0.6), wording.signed_duration(-65)) == ("+0.60 kg", "−1 h 05")


def test_counts_agree_in_number() -> None:
    assert (wording.count(1, "job"), wording.count(1200, "job")) == ("1 job", "1,200 jobs")


def test_a_clock_time_names_the_day_only_when_it_is_another() -> None:
    morning = datetime(2031, 3, 4, 9, 0)

    assert wording.clock(datetime(2031, 3, 4, 14, 20), morning) == "14:20"
    assert wording.clock(datetime(2031, 3, 5, 8, 5), morning) == "Wed 08:05"


def test_days_and_windows_are_written_out() -> None:
    assert wording.window(date(2029, 3, 4), date(2031, 5, 11)) == "4 March 2029 to 11 May 2031"
    assert wording.window(None, None) == "dates not known"


def test_words_in_a_row_end_with_and() -> None:
    assert [wording.listed(w) for w in ([], ["a"], ["a", "b", "c"])] == ["", "a", "a, b and c"]


def test_litres_lose_their_decimals_from_ten_up() -> None:
    assert [wording.litres(v) for v in (1.04, 9.96, 133.4, None)] == ["1.0 L", "10.0 L", "133 L", "not known"]


def test_no_line_ends_between_a_figure_and_its_unit() -> None:
    said = wording.unbroken("Expect 1.7 kg (0.4 to 4) in 3 h 24 (2 h to 40 min), 12 % of 8 jobs")

    assert said.replace(wording.NO_BREAK, "~") == "Expect 1.7~kg (0.4 to 4) in 3~h~24 (2~h to 40~min), 12~% of 8 jobs"
