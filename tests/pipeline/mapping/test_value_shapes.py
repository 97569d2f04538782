"""What the values of a column look like, told by hand from a few cells: shares, marks, order of days, span, units."""

from __future__ import annotations

import polars as pl
import pytest

from pipeline.mapping.value_shapes import MAX_WORDS, Shape, shape_of


def shape(*cells: str | None) -> Shape:
    return shape_of("x", pl.Series(cells, dtype=pl.String))


def test_shares_are_of_the_filled_cells_and_numbers_are_spanned_by_their_different_values() -> None:
    """Eight filled cells of ten: six numbers, of which 1 stands twice, and two words. Different numbers 1, 2, 3, 4,
    100: a quarter of the way is 2, three quarters 4."""
    found = shape("1", "1", "2", "3", "4", "100", "Soon", "soon", " ", None)

    assert (found.filled, found.distinct, found.numbers) == (8, 7, 6 / 8)
    assert (found.lowest, found.highest, found.middle, found.is_whole) == (1.0, 100.0, (2.0, 4.0), True)
    assert (found.samples, found.words) == (("1", "2", "3"), ("1", "2", "3", "4", "100", "soon"))
    assert (found.dates, found.moments, found.clocks, found.serials, found.order) == (0, 0, 0, 0, "")


def test_samples_are_cut_and_words_end_one_beyond_the_most() -> None:
    found = shape("a" * 41, *(f"w{n:03d}" for n in range(MAX_WORDS + 5)))

    assert found.samples[0] == "a" * 40
    assert len(found.words) == MAX_WORDS + 1
    assert found.distinct == MAX_WORDS + 6


def test_an_empty_column_is_all_nothing() -> None:
    found = shape("", None, "\xa0")

    assert (found.filled, found.numbers, found.lowest, found.middle, found.middle_hour) == (0, 0, None, None, 24.0)
    assert (found.decimal, found.thousands, found.is_mark_open, found.cell_units) == (".", "", False, ())


@pytest.mark.parametrize(
    ("cells", "marks"),
    [
        (["1.234,5"], (",", ".", False)),
        (["1.234.567"], (",", ".", False)),
        (["1,234.5"], (".", ",", False)),
        (["1,234,567"], (".", ",", False)),
        (["1 234", "5,5"], (",", " ", False)),
        (["1'234", "5.5"], (".", "'", False)),
        (["1 234"], (".", " ", False)),
        (["1,5"], (",", "", False)),
        (["1,2345"], (",", "", False)),
        (["0,123"], (",", "", False)),
        (["1234,567"], (",", "", False)),
        ([",5"], (",", "", False)),
        (["1,234"], (",", "", True)),
        (["1,234", "2.5"], (".", ",", False)),
        (["1,5", "1.234"], (",", ".", False)),
        (["1,5", "2.5"], (",", "", False)),
        (["1.5"], (".", "", False)),
        (["0.123"], (".", "", False)),
        (["1234.567"], (".", "", False)),
        (["1.234"], (".", "", True)),
        (["-1,234"], (",", "", True)),
        (["12"], (".", "", False)),
    ],
)
def test_marks_are_told_where_they_can_mean_one_thing_only(cells: list[str], marks: tuple[str, str, bool]) -> None:
    """Three figures behind a mark may be thousands; one, two or four of them, or a 0 before it, are decimals."""
    found = shape(*cells)

    assert (found.decimal, found.thousands, found.is_mark_open) == marks


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["12/12/2025"], "?"),
        (["13/12/2025"], "dmy"),
        (["12/13/2025"], "mdy"),
        (["13/12/2025", "12/13/2025"], "both"),
        (["12/12/2025", "1/2/25"], "?"),
        (["2025-12-13", "3 Mar 2031"], ""),
    ],
)
def test_there_is_no_thirteenth_month(cells: list[str], order: str) -> None:
    found = shape(*cells)

    assert (found.order, found.dates, found.numbers) == (order, 1.0, 0.0)


def test_days_moments_clocks_and_day_numbers_are_counted_each() -> None:
    """Of five cells one is a day, one a day with a clock time, one a clock time, one a day's number, one a word."""
    found = shape("13/3/2025", "14/3/2025 9:15", "16:30", "45720", "x")

    assert (found.dates, found.moments, found.clocks, found.serials) == (2 / 5, 1 / 5, 1 / 5, 1 / 5)
    assert found.middle_hour == 16.0
    assert shape("4:10", "6:59", "6:00", "9:00", "23:00").middle_hour == 6.0


@pytest.mark.parametrize(
    ("cells", "span", "is_whole"),
    [
        (["1 1/4", "3"], (3.0, 3.0), False),  # fractions of an inch stand apart
        (["2.5", "3"], (2.5, 3.0), False),
        (["1.234,5", "2.000"], (1234.5, 2000.0), False),
        (["-3", "4 kg"], (-3.0, 4.0), True),
    ],
)
def test_numbers_are_read_by_their_marks(cells: list[str], span: tuple[float, float], is_whole: bool) -> None:
    found = shape(*cells)

    assert ((found.lowest, found.highest), found.is_whole) == (span, is_whole)


def test_units_behind_numbers_are_those_that_are_known() -> None:
    assert shape("2 KG", "3 lbs.", "4 stone", "5").cell_units == ("kg", "lbs")
