"""Plant how sludge comes to be, and find it in the houses."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from models.physics.corrosion import MAGNETITE_PER_OXYGEN_DIRECT
from synthetic_data.house.fouling import care_factor, draw_history, foul, grown_kg, oxygen_routes, settling_weight
from synthetic_data.house.house import build_houses
from synthetic_data.house.survey import header_fill, survey
from synthetic_data.house.system import build_systems
from synthetic_data.parameters import FoulingParameters, HouseParameters
from synthetic_data.streams import stream

JOBS = 2000
USUAL = FoulingParameters()
CALM = replace(USUAL, house_sd_log=0.0, film_kg_m2=5.0)


@pytest.fixture(scope="module")
def houses():
    return build_houses(stream(4, "house"), JOBS)


@pytest.fixture(scope="module")
def systems(houses):
    return build_systems(stream(4, "system"), houses, HouseParameters())


def fouled(houses, systems, p):
    return foul(stream(4, "fouling"), houses, systems, p)


def test_magnetite_is_what_the_oxygen_of_the_years_can_make(houses, systems):
    # thin films (under 2 % of the rate), no scatter, no treatment, never cleaned: oxygen × 3.618, and the first fill
    bare = replace(CALM, inhibitor_factor=1.0, filter_factor=1.0, schikorr_share=0.0)
    found = fouled(houses, systems, bare)
    plain = ~found.cleaned_before & (found.magnetite_kg / houses.area_m2.sum(axis=1) < 0.2)
    years = houses.age_years
    oxygen_kg = (found.oxygen_g_year.total_g * years + systems.volume_l * 11.288e-3) / 1000.0

    assert MAGNETITE_PER_OXYGEN_DIRECT == pytest.approx(3.618, abs=1e-3)
    assert plain.sum() > 100
    assert found.magnetite_kg[plain] == pytest.approx(3.618 * oxygen_kg[plain], rel=0.025)


def test_a_top_up_brings_what_its_water_holds(houses, systems):
    history = draw_history(stream(4, "fouling"), houses, USUAL)
    routes = oxygen_routes(houses, systems, replace(history, topups=np.full(JOBS, 25.0)), USUAL)

    # 25 top-ups of 4 L at 10 °C: 100 L × 11.288 mg/L (Benson & Krause) = 1.13 g
    assert routes.fills_and_top_ups_g == pytest.approx(1.129, abs=0.001)


def test_plastic_without_a_barrier_equals_a_hundred_refills_a_season(houses, systems):
    open_pipe = replace(systems, has_barrier=np.zeros(JOBS, dtype=bool), plastic_l=np.full(JOBS, 11.3))
    history = draw_history(stream(4, "fouling"), houses, USUAL)
    routes = oxygen_routes(houses, open_pipe, history, USUAL)

    # DIN 4726 rationale: 5 g/(m³ d) × 200 d = 100 fills with water of 10 g/m³; 11.3 L: 11.3 g
    assert routes.plastic_pipe_g == pytest.approx(100 * 11.3e-3 * 10.0)


def test_open_vented_systems_take_up_more_oxygen_and_pumping_over_more_still(houses, systems):
    found = fouled(houses, systems, USUAL)
    per_l = found.oxygen_g_year.total_g / systems.volume_l
    plain, over = houses.vented & ~found.pumps_over, found.pumps_over

    assert np.median(per_l[over]) > 1.5 * np.median(per_l[plain])
    assert np.median(per_l[plain]) > 1.3 * np.median(per_l[~houses.vented])


def test_films_slow_the_growth_as_the_equation_says():
    def rate(_, mass):
        return 0.4 * np.exp(-mass / 2.0)

    solved = solve_ivp(rate, (0.0, 30.0), [0.3], rtol=1e-9, atol=1e-12).y[0, -1]

    assert grown_kg(np.array(0.3), np.array(0.4), np.array(30.0), np.array(2.0)) == pytest.approx(solved, rel=1e-7)


def test_more_topups_make_more_sludge_in_sealed_systems(houses, systems):
    history = draw_history(stream(4, "fouling"), houses, USUAL)
    sealed = ~houses.vented
    few, many = (
        oxygen_routes(houses, systems, replace(history, topups=np.full(JOBS, n)), USUAL).total_g for n in (0.0, 10.0)
    )

    # air drawn in at each loss of pressure: 8 g per 100 L; the water of a top-up hardly counts
    assert (many - few)[sealed] == pytest.approx((0.8 * systems.volume_l + 0.452)[sealed], rel=0.01)
    assert (many - few)[houses.vented] == pytest.approx(0.452, rel=0.01)


def test_treatment_lowers_sludge_where_it_was_and_nowhere_else(houses, systems):
    for name, flag in (("inhibitor_factor", "inhibitor"), ("filter_factor", "filter")):
        treated, without = fouled(houses, systems, USUAL), fouled(houses, systems, replace(USUAL, **{name: 1.0}))
        had = getattr(treated, flag)

        assert (treated.magnetite_kg[had] < without.magnetite_kg[had]).all()
        assert treated.magnetite_kg[~had] == pytest.approx(without.magnetite_kg[~had])


def test_topups_wash_the_inhibitor_out(houses):
    history = replace(
        draw_history(stream(4, "fouling"), houses, USUAL),
        inhibitor=np.ones(JOBS, dtype=bool),
        filter=np.zeros(JOBS, dtype=bool),
    )
    left = [care_factor(replace(history, topups=np.full(JOBS, n)), USUAL)[0] for n in (0.0, 10.0)]

    # kept up: half the iron; after ten top-ups a year e^(−1) of that benefit
    assert left == pytest.approx([0.5, 1 - 0.5 * np.exp(-1)])


def test_house_scatter_is_recovered(houses, systems):
    scattered = fouled(houses, systems, replace(CALM, house_sd_log=0.32))
    calm = fouled(houses, systems, CALM)
    ratio = np.log(scattered.magnetite_kg / calm.magnetite_kg)

    # standard error of a standard deviation from 2000 draws: 1.6 %; films and the first fill narrow it a little
    assert ratio.std() == pytest.approx(0.32, rel=0.1)


def test_old_sludge_is_more_baked_on(houses, systems):
    found = fouled(houses, systems, replace(USUAL, bake_sd=0.0))
    share = found.consolidated_kg.sum(axis=1) / found.magnetite_kg

    # laid down evenly over t years, each bit baking at 8.5 % a year: 1 − (1 − e^(−kt)) / (kt)
    kt = 0.085 * found.years_since_clean
    assert share == pytest.approx((1 - (1 - np.exp(-kt)) / kt).clip(0.05, 0.92))


def test_daily_flow_is_too_slow_to_keep_grains_from_settling(houses):
    weight = settling_weight(houses, replace(USUAL, made_in_place=0.0, upper_floor_factor=1.0))
    by_flow = houses.output_w / houses.output_w.sum(axis=1, keepdims=True)

    # some 1 L/min an emitter: a few hundredths of a pascal, under Soulsby's threshold for nearly all grains
    assert weight[houses.present] == pytest.approx(by_flow[houses.present], rel=0.15)


def test_upper_floors_hold_less(houses, systems):
    found = fouled(houses, systems, USUAL)
    each = (found.loose_kg + found.consolidated_kg) / np.where(houses.present, houses.area_m2, 1)
    ground, upper = (each[houses.present & (houses.floor == level)] for level in (0, 1))

    assert upper.mean() < ground.mean()


def test_sand_lies_where_building_work_was_and_more_often_under_open_tanks(houses, systems):
    found = fouled(houses, systems, replace(USUAL, background_non_magnetic=0.0))

    assert (found.sand_kg.sum(axis=1) > 0).tolist() == found.has_sand.tolist()
    assert found.has_sand[houses.vented].mean() > 2 * found.has_sand[~houses.vented].mean()


def test_a_filled_header_is_a_cold_emitter(houses, systems):
    found = fouled(houses, systems, USUAL)
    seen = survey(stream(4, "survey"), houses, systems, found, USUAL)
    fill, there = header_fill(houses, found, USUAL.bulk_kg_l), houses.present
    half = there & (np.abs(np.log(fill.clip(1e-9) / USUAL.cold_fill_share)) < 0.1)

    # at the planted filling: 2 % + 94 % · ½
    assert seen.cold[half].mean() == pytest.approx(0.49, abs=0.05)
    assert seen.cold[there & (fill > 1.5)].mean() > 0.9 > 0.1 > seen.cold[there & (fill < 0.1)].mean()


def test_the_water_sample_follows_the_state(houses, systems):
    found = fouled(houses, systems, USUAL)
    seen = survey(stream(4, "survey"), houses, systems, found, USUAL)
    loose = np.log(found.loose_kg.sum(axis=1) / systems.volume_l)

    # sampling and instruments scatter by 0.43 (turbidity) and 0.51 (iron, 0.9 of the slope), planted
    for column, slope, noise in ((seen.turbidity_ntu, 1.0, 0.43), (seen.iron_mg_l, 0.9, 0.51)):
        expected = slope * loose.std() / np.hypot(slope * loose.std(), noise)
        assert np.corrcoef(loose, np.log(column))[0, 1] == pytest.approx(expected, abs=0.05)
    assert seen.ph[found.inhibitor].mean() > seen.ph[~found.inhibitor].mean() + 0.4
    assert seen.conductivity_us_cm[found.inhibitor].mean() > seen.conductivity_us_cm[~found.inhibitor].mean() + 200
