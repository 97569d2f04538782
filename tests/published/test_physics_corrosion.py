"""Stoichiometry against molar masses; oxygen against Standard Methods; rinsing against exp(−n)."""

import math

import pytest

from models.physics import corrosion


def test_magnetite_per_oxygen_follows_from_iupac_masses():
    # 3 Fe + 2 O2 → Fe3O4: 3.6179 g/g; by way of the hydroxide (Schikorr) 4.8239 g/g
    assert pytest.approx(3.6179, abs=1e-4) == corrosion.MAGNETITE_PER_OXYGEN_DIRECT
    assert pytest.approx(4.8239, abs=1e-4) == corrosion.MAGNETITE_PER_OXYGEN_SCHIKORR


def test_the_hydroxide_route_makes_a_third_more_exactly():
    # 3 Fe(OH)2 → Fe3O4 + H2 + 2 H2O: part of the oxygen comes from water
    ratio = corrosion.magnetite_from_oxygen_g(1.0, 1.0) / corrosion.magnetite_from_oxygen_g(1.0, 0.0)

    assert ratio == pytest.approx(4 / 3, rel=1e-15)


def test_iron_and_haematite_per_oxygen_follow_from_iupac_masses():
    # 2.6179 g of iron per g of oxygen direct, 3.4905 by the hydroxide; 4 Fe + 3 O2 → 2 Fe2O3: 3.3270
    assert pytest.approx(2.6179, abs=1e-4) == corrosion.IRON_PER_OXYGEN_DIRECT
    assert pytest.approx(3.4905, abs=1e-4) == corrosion.IRON_PER_OXYGEN_SCHIKORR
    assert pytest.approx(3.3270, abs=1e-4) == corrosion.HAEMATITE_PER_OXYGEN


def test_hydrogen_of_both_reactions_follows_from_the_gas_law():
    # Schikorr: 0.467 mL (0 °C, 1 atm) per mg of oxygen; 3 Fe + 4 H2O → Fe3O4 + 4 H2: 17.28 mol a kg of magnetite
    assert corrosion.hydrogen_l(corrosion.schikorr_hydrogen_mol(1.0)) == pytest.approx(0.467, abs=5e-4)
    moles = corrosion.anaerobic_hydrogen_mol(1000.0)

    assert moles == pytest.approx(17.28, abs=0.005)
    assert corrosion.hydrogen_l(moles, [0.0, 20.0]) == pytest.approx([387.2, 415.6], abs=0.1)


def test_magnetite_is_72_percent_iron():
    assert pytest.approx(231.531, abs=1e-3) == corrosion.MAGNETITE_G_MOL
    assert pytest.approx(0.72360, abs=1e-5) == corrosion.IRON_SHARE_OF_MAGNETITE


# Benson & Krause; table 4500-O:I of Standard Methods (table from memory)
@pytest.mark.parametrize(
    ("temp_c", "mg_l"),
    [
        (0, 14.621),
        (5, 12.771),
        (10, 11.288),
        (15, 10.084),
        (20, 9.092),
        (25, 8.263),
        (30, 7.559),
        (35, 6.949),
        (40, 6.413),
    ],
)
def test_oxygen_saturation_is_that_of_standard_methods(temp_c, mg_l):
    assert corrosion.oxygen_saturation_mg_l(temp_c) == pytest.approx(mg_l, abs=0.005)


def test_one_fill_of_a_hundred_litres_makes_five_grams():
    # 1.13 g of oxygen at 10 °C → 5.45 g by the hydroxide route: one fill cannot make sludge in kilograms
    assert corrosion.magnetite_from_fill_g(100.0, 10.0) == pytest.approx(5.45, abs=0.01)
    assert corrosion.magnetite_from_oxygen_g(1.1288, 0.0) == pytest.approx(4.08, abs=0.005)


def test_a_hundredth_of_a_millimetre_gives_a_hundred_grams_a_square_metre():
    # 0.01 mm of steel a year = 78.5 g of iron = 108.5 g of magnetite per m² = 0.86 µA/cm² (Faraday)
    assert corrosion.iron_g_m2(10.0) == pytest.approx(78.5)
    assert corrosion.corrosion_current_ua_cm2(10.0) == pytest.approx(0.86, abs=0.005)
    assert corrosion.magnetite_from_loss_g(1.0, 10.0) == pytest.approx(108.5, abs=0.05)


def test_thirteen_and_a_half_kilograms_take_31_micrometres_of_forty_square_metres():
    # 13.5 kg of magnetite = 9.77 kg of iron; over 40 m² of wetted steel 31 µm
    assert corrosion.magnetite_from_loss_g(40.0, 31.1) / 1000 == pytest.approx(13.5, rel=0.005)


def test_thirteen_and_a_half_kilograms_take_kilograms_of_oxygen():
    # 3.73 kg direct, 2.80 kg by the hydroxide: what 330 600 L of water saturated at 10 °C hold (direct route)
    direct, hydroxide = corrosion.oxygen_for_magnetite_g(13_500.0, [0.0, 1.0]) / 1000

    assert (direct, hydroxide) == (pytest.approx(3.73, abs=0.005), pytest.approx(2.80, abs=0.005))
    assert direct * 1e6 / corrosion.oxygen_saturation_mg_l(10.0) == pytest.approx(330_600, rel=1e-3)


@pytest.mark.parametrize(("volumes", "left"), [(math.log(10), 0.10), (3, 0.05), (5, 0.007)])
def test_well_mixed_rinsing_leaves_exp_minus_n(volumes, left):
    # first-order mixing; 2.303 volumes leave 10 %, 3 leave 5 %, 5 leave 0.7 %
    assert corrosion.rinse_share_left(volumes) == pytest.approx(left, abs=5e-4)


@pytest.mark.parametrize(("ratio", "volumes"), [(2, 2.30), (3, 3.00), (5, 3.69), (10, 4.50)])
def test_volumes_to_within_a_tenth_of_the_mains_follow_from_it(ratio, volumes):
    # ln((r − 1) / 0.1)
    assert corrosion.rinse_volumes_needed(ratio, 0.1) == pytest.approx(volumes, abs=0.005)
