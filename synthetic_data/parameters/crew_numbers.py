"""The numbers of crews, aftercare, logbook and planted faults; see `world_numbers` for the rest of the world."""

from __future__ import annotations

from dataclasses import dataclass

from synthetic_data.parameters.fields import Checked, number


@dataclass(frozen=True, slots=True)
class CrewParameters(Checked):
    """Habits, and how far they follow from how bad a system looks."""

    jobs_per_engineer: float = number(130, "count", 5, 5000, "Jobs for each engineer over the whole window")
    indication: float = number(2.6, "logit", 0, 10, "How strongly effort follows how bad the system looks")
    habit_sd: float = number(0.9, "logit", 0, 5, "Spread of habits between engineers")
    firm_sd: float = number(0, "logit", 0, 5, "Spread of habits between firms, where there are several")
    hidden_push: float = number(0, "logit", 0, 5, "How far care on the day, written nowhere, moves the choices")
    weigh_minutes: float = number(8, "min", 2, 60, "Usual minutes between two weighings")
    leave_wet_g_min: float = number(5.5, "g/min", 0.1, 100, "Wet catch rate below which the flow moves on")
    clock_share: float = number(0.15, "share", 0, 1, "Engineers who go by the clock, whatever the magnet says")
    clock_dwell: float = number(2.2, "ratio", 1, 10, "Their stay at an emitter against the shortest of the others")
    least_dwell_minutes: float = number(10, "min", 1, 120, "Shortest time on one emitter")
    most_dwell_minutes: float = number(75, "min", 5, 400, "Longest time on one emitter in one go")
    return_share: float = number(
        0.7, "share", 0, 1, "Part of that rate at which an emitter is visited once more after the first round"
    )
    mains_l_min: float = number(16, "L/min", 2, 60, "Flow of the mains that rinses and refills, 8 to 25 by house")
    rinse_changes: float = number(3.2, "count", 0.2, 20, "Changes of the system's water in the last rinse")
    lunch_minutes: float = number(30, "min", 0, 120, "Lunch, the machine running and nobody weighing")
    open_tank_share: float = number(0.15, "share", 0, 1, "Engineers whose machine has a tank that is open to the air")
    dump_engineers: float = number(0.7, "share", 0, 1, "Engineers who send the first water of each station to waste")
    careful_share: float = number(0.25, "share", 0, 1, "Engineers who dry and weigh some catches again")
    porosity: float = number(
        0.823, "share", 0.6, 0.9, "Water-filled part of a wet catch", "packed fine particles, 0.6 to 0.9 (from memory)"
    )
    porosity_sd: float = number(0.025, "share", 0, 0.1, "Spread of that part between jobs")
    weighing_sd_log: float = number(0.06, "ln", 0, 0.5, "Error of one weighing")


@dataclass(frozen=True, slots=True)
class AftercareParameters(Checked):
    """What is left goes on moving, new debris is made, and callbacks compete until follow-up ends."""

    practice_effect: float = number(
        1, "share", 0, 1, "1: what was done counts as below; 0: callbacks follow from the house alone"
    )
    fixed_residual_share: float = number(0.35, "share", 0, 1, "Debris that is left, where practice does nothing")
    loosen_per_year: float = number(1.2, "1/year", 0, 10, "Consolidated → loose in normal running")
    move_per_year: float = number(0.8, "1/year", 0, 20, "Loose → carried by the pump's flow in normal running")
    season: float = number(0.6, "share", 0, 1, "Swing of movement and callbacks between January and July")
    filter_return: float = number(0.65, "share", 0, 1, "Carried debris that a filter on the return keeps")
    filter_flow: float = number(0.5, "share", 0, 1, "The same, on the flow or fitted earlier")
    filter_flow_shields: float = number(
        0.3, "share", 0, 1, "Part of that which counts at the heat source: on the flow, debris passes it first"
    )
    source_share: float = number(0.03, "share", 0, 1, "Carried debris that stays in heat source and pump")
    ingress_share: float = number(2, "ratio", 0, 10, "Corrosion after the clean against that just before it")
    inhibitor_stops: float = number(0.85, "share", 0, 1, "Corrosion that fresh inhibitor prevents")
    washout_topups: float = number(10, "1/year", 0.1, 100, "Top-ups a year that wash 63 % of it out")
    emitter_per_year: float = number(0.0036, "1/year", 0, 5, "Debris hazard of one emitter at the reference load")
    emitter_reference_g_m: float = number(60, "g/m", 0.1, 5000, "That load: loose debris per metre of emitter")
    source_per_year: float = number(0.021, "1/year", 0, 5, "Debris hazard of heat source and pump at the reference")
    source_reference_g_l: float = number(3, "g/L", 0.01, 100, "That: debris passing in a year per litre of system")
    load_exponent: float = number(1, "-", 0, 3, "Both hazards grow with the load to this power")
    microbore_ratio: float = number(1.6, "ratio", 1, 10, "Emitter hazard on microbore tails")
    skill_log: float = number(0.12, "ln", 0, 2, "Debris hazard falls by this for each unit of the engineer's skill")
    hidden_log: float = number(0, "ln", 0, 3, "And for each unit of care on the day, which is written nowhere")
    after_debris: float = number(0.5, "ratio", 0, 1, "Debris hazard after a debris callback: someone cleaned again")
    boiler_fault_per_year: float = number(0.05, "1/year", 0, 5, "Competing cause: boiler fault, not by debris")
    leak_per_year: float = number(0.012, "1/year", 0, 5, "Competing cause: leak, in a new system")
    leak_per_year_of_age: float = number(0.0007, "1/year²", 0, 1, "Growth of the leak hazard with age")
    early_leak_share: float = number(0.012, "share", 0, 0.5, "Cleans that lay a pinhole or gland bare, in a new system")
    early_leak_per_year_of_age: float = number(0.0004, "1/year", 0, 0.1, "Growth of that with age")
    early_leak_days: float = number(12, "days", 1, 60, "Days in which all but 37 % of those are found")
    other_per_year: float = number(0.025, "1/year", 0, 5, "Competing cause: anything else")
    lost_per_year: float = number(0.05, "1/year", 0, 5, "Follow-up that ends early; twice that in flats")


@dataclass(frozen=True, slots=True)
class LogParameters(Checked):
    """What gets written down, and how well."""

    gap_factor: float = number(1, "ratio", 0, 4, "All chances of an empty cell times this")
    reading_minutes: float = number(15, "min", 1, 120, "Minutes between two readings")
    reading_skip_share: float = number(0.06, "share", 0, 1, "Readings not taken")
    lost_catch_share: float = number(0, "share", 0, 1, "Weighings that never reach the log")
    exchanger_share: float = number(
        0.5, "share", 0, 1, "Surveys that ask for an aluminium exchanger and for antifreeze"
    )
    buffer_share: float = number(0.3, "share", 0, 1, "Surveys that ask for buffer, store and coils by name")
    water_sample_share: float = number(0.6, "share", 0, 1, "Surveys with a water sample")
    pipe_run_share: float = number(0.35, "share", 0, 1, "Surveys with the pipe runs measured")
    one_pipe_missed: float = number(0.45, "share", 0, 1, "One-pipe layouts written down as two-pipe")
    five_minute_share: float = number(0.3, "share", 0, 1, "Engineers whose clock goes in steps of five minutes")
    scale_drift_per_year: float = number(0, "ln/year", 0, 1, "Spread between scales of their drift in a year")
    scale_check_years: float = number(2.5, "years", 0.1, 20, "Time from one setting of a scale to the next")
    unit_slip_share: float = number(0, "share", 0, 0.2, "Rows with a figure in a wrong unit")
    twice_share: float = number(0, "share", 0, 0.2, "Rows that are entered twice, word for word")
    conflict_share: float = number(0, "share", 0, 0.2, "Rows that are entered twice, differently")
    late_share: float = number(0, "share", 0, 0.2, "Jobs corrected later, in a folder of their own")


@dataclass(frozen=True, slots=True)
class FaultParameters(Checked):
    """Faults planted on purpose, for warnings to find."""

    faulty_share: float = number(0, "share", 0, 1, "Jobs with one planted fault, kinds in equal parts")
    throttled_kv_m3_h: float = number(0.16, "m³/h", 0.01, 2, "Kv of a throttled connection")
    strainer_fill_per_h: float = number(
        1.5, "1/h", 0, 20, "Capacities of the strainer used up in an hour; at one it is as resistant as all the rest"
    )
    sand_kg_per_emitter: float = number(0.35, "kg", 0, 5, "Sand and cement of a sand load")
    weep_l_h: float = number(0.6, "L/h", 0, 20, "Water lost through a weeping joint")
    weep_leak_ratio: float = number(12, "ratio", 1, 100, "Its leak hazard afterwards against the usual one")
    half_open_share: float = number(0, "share", 0, 1, "Jobs with a zone valve or by-pass left half open, two-pipe")
    half_open_kv_m3_h: float = number(0.5, "m³/h", 0.01, 5, "Kv of that")
    pump_fails_share: float = number(0, "share", 0, 1, "Jobs whose machine's pump fails by half an hour to three on")
    pump_ratio: float = number(0.3, "ratio", 0.05, 1, "Flow of such a pump against before")
    weep_share: float = number(0, "share", 0, 1, "Jobs in which cleaning opens a pinhole or a gland")
    full_trap_weighings: float = number(6, "ratio", 1, 50, "Minutes between weighings, times this: a trap left full")
