"""Emitters against EN 442, an engineering table, and the usual ranges of contents."""

import pytest

from models.physics import emitters


# EN 442: (dT / 50)^n with n = 1.3
@pytest.mark.parametrize(
    ("excess_k", "ratio"), [(60, 1.2675), (50, 1.0), (40, 0.7482), (30, 0.5148), (25, 0.4061), (20, 0.3039)]
)
def test_output_ratio_is_that_of_en_442(excess_k, ratio):
    assert emitters.output_ratio(excess_k) == pytest.approx(ratio, abs=5e-5)


def test_a_rating_at_60_k_becomes_0789_at_50_k():
    # BS 3528 ratings (60 K) against EN 442 (50 K), from memory
    assert 1 / emitters.output_ratio(60.0) == pytest.approx(0.789, abs=5e-4)


# engineeringtoolbox.com, heat emission from radiators: P = 41 k L (1 + 8 H), 0.6 m × 1.0 m
@pytest.mark.parametrize(
    ("kind", "watt"), [("panel_11", 975), ("panel_20", 1165), ("panel_21", 1379), ("panel_22", 1665)]
)
def test_panel_output_is_that_of_the_engineering_table(kind, watt):
    assert emitters.panel_output_w(kind, 600.0, 1000.0) == pytest.approx(watt, abs=1.0)


# Output of catalogues at 50 K, 600 × 1,000 mm, no make (from memory): type 10 0.55 to 0.6, type 33 2.2 to 2.5 kW
@pytest.mark.parametrize(("kind", "low", "high"), [("panel_10", 550, 600), ("panel_33", 2200, 2500)])
def test_the_plain_single_and_the_triple_panel_give_what_catalogues_say(kind, low, high):
    assert low < emitters.panel_output_w(kind, 600.0, 1000.0) < high


# Typical ranges of water per metre, no make (from memory): single, double and triple panels
@pytest.mark.parametrize(
    ("panels", "height_mm", "low", "high"),
    [
        (1, 300, 1.5, 2.0),
        (1, 600, 2.8, 3.5),
        (1, 900, 4.1, 5.0),
        (2, 300, 3.0, 3.9),
        (2, 600, 5.6, 6.9),
        (2, 700, 6.4, 7.9),
        (3, 600, 8.4, 10.3),
    ],
)
def test_panel_contents_lie_in_the_usual_range(panels, height_mm, low, high):
    assert low <= emitters.panel_contents_l(panels, height_mm, 1000.0) <= high
