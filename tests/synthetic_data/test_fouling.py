"""Plant how sludge comes to be, and find it in the houses."""

from dataclasses import replace

import numpy as np
import pytest

from synthetic_data.fouling import foul, loss_um
from synthetic_data.house import build_houses
from synthetic_data.parameters import FoulingParameters
from synthetic_data.streams import stream

USUAL = FoulingParameters()
CALM = replace(USUAL, house_sd_log=0.0, pumping_over_share=0.0, pumping_over_large_share=0.0, deposit_limit_kg_m2=5.0)


@pytest.fixture(scope="module")
def houses():
    return build_houses(stream(4, "house"), 2000)


def per_m2(houses, fouling):
    return fouling.magnetite_kg / houses.area_m2.sum(axis=1)


@pytest.mark.parametrize("topups", [1.0, 5.0, 50.0])
def test_more_topups_make_more_sludge_by_the_planted_law(houses, topups):
    none = np.zeros(2000, dtype=bool)
    years = houses.age_years.astype(float)
    dry = loss_um(houses, years, np.zeros(2000), none, USUAL)

    found = loss_um(houses, years, np.full(2000, topups), none, USUAL) / dry
    # sealed 0.6, open-vented 0.2
    assert found == pytest.approx(1 + np.where(houses.vented, 0.2, 0.6) * np.log1p(topups))


def test_age_exponent_is_recovered_from_the_houses(houses):
    fouling = foul(stream(4, "fouling"), houses, replace(CALM, deposit_limit_kg_m2=5.0))
    plain = (
        ~houses.vented & (houses.layout == 0) & ~fouling.inhibitor & ~fouling.filter & ~fouling.cleaned_before
    ) & (fouling.topups == 1)  # fmt: skip
    slope = np.polyfit(np.log(houses.age_years[plain]), np.log(per_m2(houses, fouling)[plain]), 1)[0]

    # the limit on deposits bends the upper end a little
    assert plain.sum() > 30
    assert slope == pytest.approx(USUAL.age_exponent, abs=0.03)


def test_house_scatter_is_recovered(houses):
    scattered = foul(stream(4, "fouling"), houses, replace(CALM, house_sd_log=0.33))
    calm = foul(stream(4, "fouling"), houses, CALM)
    ratio = np.log(scattered.magnetite_kg / calm.magnetite_kg)

    # standard error of a standard deviation from 2000 draws: 1.6 %
    assert ratio.std() == pytest.approx(0.33, rel=0.06)
    assert ratio.mean() == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize(
    ("name", "flag"), [("inhibitor_factor", "inhibitor"), ("filter_factor", "filter")]
)
def test_treatment_lowers_sludge_where_it_was_and_nowhere_else(houses, name, flag):
    treated = foul(stream(4, "fouling"), houses, CALM)
    without = foul(stream(4, "fouling"), houses, replace(CALM, **{name: 1.0}))
    had = getattr(treated, flag)

    assert (treated.magnetite_kg[had] < without.magnetite_kg[had]).all()
    assert treated.magnetite_kg[~had] == pytest.approx(without.magnetite_kg[~had])


def test_topups_wash_the_inhibitor_out(houses):
    treated = foul(stream(4, "fouling"), houses, CALM)
    without = foul(stream(4, "fouling"), houses, replace(CALM, inhibitor_factor=1.0))
    left = (treated.magnetite_kg / without.magnetite_kg)[treated.inhibitor]
    topups = treated.topups[treated.inhibitor]

    assert left[topups >= 8].mean() > left[topups <= 1].mean() + 0.1


def test_deposits_never_pass_their_limit(houses):
    heavy = replace(USUAL, loss_um_per_year=20.0)
    fouling = foul(stream(4, "fouling"), houses, heavy)

    assert per_m2(houses, fouling).max() <= USUAL.deposit_limit_kg_m2


def test_upper_floors_hold_less(houses):
    fouling = foul(stream(4, "fouling"), houses, USUAL)
    each = (fouling.loose_kg + fouling.consolidated_kg) / np.where(houses.present, houses.area_m2, 1)
    ground, upper = (each[houses.present & (houses.floor == level)] for level in (0, 1))

    assert upper.mean() < ground.mean()
