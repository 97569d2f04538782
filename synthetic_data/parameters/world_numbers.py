"""The numbers of houses, fouling, machine, heat, release and traps; see `crew_numbers` for the rest of the world."""

from __future__ import annotations

from dataclasses import dataclass

from synthetic_data.parameters.fields import Checked, number

DIN_4726 = "DIN 4726 rationale: about 5 g/(m³ d) at 40 °C, 200 heating days a season"


@dataclass(frozen=True, slots=True)
class HouseParameters(Checked):
    """Pipework and the way a house is heated."""

    source_run_share: float = number(
        0.3, "share", 0.05, 1, "Of the mains, two-pipe: from heat source to first take-off"
    )
    riser_m: float = number(5.2, "m", 0, 12, "Flow and return main from one floor to the next, together")
    loop_stretch_m: float = number(0.8, "m", 0.1, 5, "One-pipe: stretch of loop between the two tees of an emitter")
    loop_fitting_k: float = number(
        5.0, "heads", 0.5, 30, "One-pipe: velocity heads lost past an emitter, tees included"
    )
    tail_spread_log: float = number(0.35, "ln", 0, 1, "Spread of the length of tails within a house")
    plastic_share: float = number(0.35, "share", 0, 1, "Systems under 25 years old with plastic tails")
    no_barrier_share: float = number(0.45, "share", 0, 1, "Plastic systems over 12 years old without an oxygen barrier")
    heating_hours: float = number(8.0, "h/day", 0, 24, "Usual heating in the days before a visit")
    heating_sd_log: float = number(0.4, "ln", 0, 2, "Spread of those hours between houses and seasons")
    heating_c: float = number(50.0, "°C", 25, 80, "Mean water temperature while the house is heated")
    aluminium_share: float = number(0, "share", 0, 1, "Houses given an aluminium exchanger, besides those drawn")
    antifreeze_share: float = number(0, "share", 0, 1, "Houses given antifreeze, besides those drawn")
    heat_pump_share: float = number(
        0, "share", 0, 1, "Houses given a heat pump, mostly with a buffer, besides those drawn"
    )
    underfloor_share: float = number(
        0, "share", 0, 1, "Houses whose ground floor is given underfloor loops on a manifold"
    )
    blocked_share: float = number(0, "share", 0, 1, "Emitters with a tail or panel blocked outright")
    stuck_pin_share: float = number(0, "share", 0, 1, "Thermostatic bodies whose pin is stuck nearly shut")
    steel_share: float = number(0, "share", 0, 1, "Houses with mains of steel pipe")
    tank_l: float = number(45.0, "L", 10, 200, "Water in the head tank of an open-vented system")
    steel_kg_m2: float = number(
        15.0,
        "kg/m²",
        4,
        60,
        "Steel of an emitter per wetted surface, fins included",
        "1.11 mm of sheet (EN 442-1, from memory) is 8.7 kg/m²; with fins and fittings some 26 kg/kW",
    )


@dataclass(frozen=True, slots=True)
class FoulingParameters(Checked):
    """How sludge came to be: oxygen in, iron lost, magnetite made, carried, settled, consolidated."""

    fill_c: float = number(10.0, "°C", 1, 30, "Temperature of fill and top-up water")
    topup_l: float = number(4.0, "L", 0, 50, "Water of one top-up")
    ingress_g_emitter: float = number(5.6, "g/year", 0, 50, "Oxygen by glands, air vents and pump, per emitter")
    leak_g_topup: float = number(
        8.0, "g", 0, 50, "Oxygen drawn in with air at each loss of pressure, sealed, per 100 L of system"
    )
    tank_turnover: float = number(
        115.0, "1/year", 0, 1000, "Open-vented: system volumes swapped with the tank, by expansion and in the cold feed"
    )
    tank_c: float = number(20.0, "°C", 1, 40, "Water temperature in the head tank")
    pumping_over_share: float = number(0.15, "share", 0, 1, "Open-vented systems that draw air through the vent")
    pumping_over_large_share: float = number(0.45, "share", 0, 1, "The same, 12 emitters or more: a stronger pump")
    pumping_over_day: float = number(0.85, "1/day", 0, 20, "System volumes pumped over the vent on a heating day")
    heating_days: float = number(200.0, "1/year", 50, 365, "Heating days", DIN_4726)
    no_barrier_g_m3_day: float = number(5.0, "g/(m³ day)", 0, 20, "Oxygen through plastic without a barrier", DIN_4726)
    barrier_g_m3_day: float = number(0.1, "g/(m³ day)", 0, 1, "The same with a barrier", "DIN 4726, older form, 40 °C")
    schikorr_share: float = number(0.5, "share", 0, 1, "Iron that goes by the hydroxide, which makes 4/3 the magnetite")
    film_kg_m2: float = number(
        0.2, "kg/m²", 0.02, 5, "Magnetite per wetted steel at which films have e-folded the rate"
    )
    inhibitor_factor: float = number(0.5, "ratio", 0, 1, "Iron lost where inhibitor was kept up and never topped up")
    inhibitor_washout_topups: float = number(
        10, "1/year", 0.1, 100, "Top-ups a year that wash 63 % of that benefit out"
    )
    filter_factor: float = number(0.7, "ratio", 0, 1, "Sludge that settled where a magnetic filter caught the rest")
    left_by_last_clean: float = number(0.25, "share", 0, 1, "Share of the older sludge that the last clean left")
    house_sd_log: float = number(0.3, "ln", 0, 2, "Scatter of oxygen ingress that no survey can see")
    emitter_sd_log: float = number(0.5, "ln", 0, 2, "Scatter between emitters of a house")
    made_in_place: float = number(0.35, "share", 0, 1, "Magnetite that stays in the emitter where it was made")
    upper_floor_factor: float = number(0.8, "ratio", 0.2, 1, "What settles in an emitter one floor higher up")
    design_drop_k: float = number(11.0, "K", 5, 25, "Flow to return in daily service, sets the daily flow")
    bake_per_year: float = number(0.085, "1/year", 0, 1, "Loose → consolidated in daily service")
    bake_sd: float = number(0.1, "share", 0, 0.5, "Scatter of the consolidated share between emitters")
    background_non_magnetic: float = number(0.05, "ratio", 0, 1, "Haematite, scale, flux / magnetite: a middle system")
    background_sd_log: float = number(0.9, "ln", 0, 2, "Spread of that between houses: water, flux and filling differ")
    sand_share_vented: float = number(0.2, "share", 0, 1, "Open-vented systems with sand or cement after building work")
    sand_share_sealed: float = number(0.05, "share", 0, 1, "Sealed systems that have it")
    sand_kg_per_emitter: float = number(0.09, "kg", 0, 2, "Median of that debris per emitter, where there is any")
    bulk_kg_l: float = number(
        1.5, "kg/L", 0.3, 3, "Dry magnetite per litre of settled sludge", "packed magnetite at porosity 0.7, arithmetic"
    )
    cold_fill_share: float = number(0.38, "share", 0.02, 3, "Filling of the bottom header at which half are cold below")
    ph_error: float = number(0.1, "pH", 0, 1, "Instrument: pH meter")
    conductivity_error: float = number(0.03, "ratio", 0, 0.5, "Instrument: conductivity")
    turbidity_error: float = number(0.08, "ln", 0, 1, "Instrument: turbidity")
    iron_error: float = number(0.15, "ln", 0, 1, "Instrument: iron by test strip")
    sampling_sd_log: float = number(0.42, "ln", 0, 2, "Where and when the sample was drawn")


@dataclass(frozen=True, slots=True)
class FlushParameters(Checked):
    """Machine, heat and traps."""

    machine_head_kpa: float = number(200, "kPa", 20, 600, "Head of the machine with no flow")
    machine_volume_l: float = number(14, "L", 1, 60, "Water in machine and hoses")
    dump_minutes: float = number(9.0, "min", 0, 30, "At each station the first water goes to waste: so long at most")
    dump_share: float = number(0.6, "share", 0, 1, "Part of the mains flow that replaces it meanwhile")
    mains_c: float = number(11, "°C", 1, 25, "Its temperature")
    boiler_flush_kw: float = number(12, "kW", 0, 60, "Heat that the boiler can give into the flush at most")
    set_point_c: float = number(60, "°C", 20, 75, "Flow temperature usually aimed at; engineers differ by some 5 K")
    room_c: float = number(18, "°C", 0, 30, "Room temperature")
    pipe_loss_w_k: float = number(25, "W/K", 0, 200, "Heat lost by pipes, hoses and machine")
    magnet_efficiency: float = number(0.72, "share", 0, 1, "Medium grains caught in one pass by a clean magnet")
    magnet_fine_ratio: float = number(0.6, "ratio", 0.1, 1, "The same for fines, against medium grains")
    magnet_flake_ratio: float = number(1.1, "ratio", 0.5, 1.3, "The same for flakes")
    magnet_capacity_kg: float = number(0.75, "kg", 0.05, 10, "Dry magnetite at which it holds hardly more")
    strainer_share: float = number(0.025, "share", 0, 1, "Magnetite that ends in strainer and machine base, one pass")
    sand_trap_share: float = number(0.45, "share", 0, 1, "Non-magnetic debris trapped by them in one pass")
    strainer_capacity_kg: float = number(
        1.2, "kg", 0.1, 10, "Load at which the strainer is as resistant as all the rest"
    )
    vessel_l_per_l: float = number(0.1, "L/L", 0.01, 0.5, "Expansion vessel per litre of system")
    fill_bar: float = number(1.3, "bar", 0.3, 3, "Cold pressure of a sealed system before the flush")
    vented_bar: float = number(0.6, "bar", 0.05, 2, "Pressure at the machine, open-vented: height of the tank")
    practice_effect: float = number(
        1,
        "share",
        0,
        1,
        "1: chemical, heat, agitation and method work as above; 0: they do nothing, and what is left is the "
        "house's own share",
    )
    fixed_residual_share: float = number(0.35, "share", 0, 1, "That share, where practices do nothing")


@dataclass(frozen=True, slots=True)
class ReleaseParameters(Checked):
    """From baked on to caught or settled again, in the emitters of a system that is being flushed."""

    loosen_per_min: float = number(
        0.006, "1/min", 0, 0.2, "Consolidated → loose, 50 °C, label dose, reference velocity"
    )
    loosen_floor: float = number(0.02, "share", 0, 1, "Part of that rate without flow, in the days of a pre-dose too")
    loosen_kj_mol: float = number(32, "kJ/mol", 0, 120, "Activation energy of loosening (heat softens rust)")
    reference_m_s: float = number(0.25, "m/s", 0.02, 2, "Velocity along the bottom header at which it is stated")
    fresh_chemical: float = number(
        0.5, "ratio", 0, 1, "Loosening with cleaner that goes in on the day, against that after long contact"
    )
    contact_days: float = number(3, "days", 0.1, 30, "Days of contact in which all but 37 % of the rest is gained")
    valve_strain: float = number(
        0.12, "share", 0, 1, "Flakes and sand that a joint through valves holds back in one pass, and lets lie there"
    )
    chemical_days: float = number(6, "days", 0.5, 60, "Days in which the chemical is used up by a factor e")
    dose_exponent: float = number(0.5, "-", 0, 2, "Effect grows with dose / label dose to this power")
    lift_per_min: float = number(0.18, "1/min", 0, 2, "Loose → carried where all grains are beyond their threshold")
    fine_um: float = number(20, "µm", 1, 100, "Grain size of fines")
    medium_um: float = number(80, "µm", 10, 400, "Grain size of medium grains")
    flake_um: float = number(500, "µm", 50, 3000, "Size of flakes")
    sand_um: float = number(300, "µm", 50, 3000, "Grain size of sand and cement")
    fine_share: float = number(0.35, "share", 0, 1, "Fines in loose sludge")
    medium_share: float = number(0.4, "share", 0, 1, "Medium grains in loose sludge; the rest are flakes")
    cohesion: float = number(1.2, "ratio", 1, 20, "Threshold stress in a settled bed against that of clean grains")
    threshold_sd_log: float = number(1.5, "ln", 0.1, 3, "Spread of stress over threshold: sizes, turbulence, place")
    burst_share: float = number(
        0.2, "share", 0, 1, "Part of a minute in which agitation bursts, one kind; both: 1.6 times"
    )
    burst_factor: float = number(5, "ratio", 1, 30, "Stress in a burst against the mean")
    reversal_gain: float = number(0.12, "ratio", 0, 2, "Extra lift by reversing the flow")
    resettle: float = number(0.2, "share", 0, 1, "Of the grains that could settle in a pass through an emitter, do")
    two_speeds: float = number(
        0, "share", 0, 1, "Share of each emitter's loose sludge that lies sheltered; 0: none, the usual world"
    )
    sheltered_factor: float = number(0.06, "ratio", 0.001, 1, "Lift of sheltered sludge against the rest")
