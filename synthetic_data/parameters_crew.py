"""The numbers of crews, aftercare and logbook; see `parameters` for the rest of the world."""

from __future__ import annotations

from dataclasses import dataclass

from synthetic_data.parameter_fields import Checked, number


@dataclass(frozen=True, slots=True)
class CrewParameters(Checked):
    """Habits, and how far they follow from how bad a system looks."""

    jobs_per_engineer: float = number(130, "count", 5, 5000, "Jobs for each engineer over the whole window")
    indication: float = number(2.6, "logit", 0, 10, "How strongly effort follows how bad the system looks")
    habit_sd: float = number(0.9, "logit", 0, 5, "Spread of habits between engineers")
    weigh_minutes: float = number(8, "min", 2, 60, "Usual minutes between two weighings")
    leave_wet_g_min: float = number(5.5, "g/min", 0.1, 100, "Wet catch rate below which the flow moves on")
    least_dwell_minutes: float = number(10, "min", 1, 120, "Shortest time on one emitter")
    most_dwell_minutes: float = number(75, "min", 5, 400, "Longest time on one emitter in one go")
    return_share: float = number(0.7, "share", 0, 1,
        "Part of that rate at which an emitter is visited once more after the first round")
    rinse_minutes: float = number(24, "min", 1, 200, "Rinse at the end")
    careful_share: float = number(0.25, "share", 0, 1, "Engineers who dry and weigh some catches again")
    wet_dry_ratio: float = number(1.9, "ratio", 1.29, 2.73, "Wet / dry mass of a catch",
        "packed magnetite at porosity 0.6 to 0.9, arithmetic")
    wet_dry_sd_log: float = number(0.13, "ln", 0, 0.5, "Spread of that ratio between jobs")
    weighing_sd_log: float = number(0.06, "ln", 0, 0.5, "Error of one weighing")


@dataclass(frozen=True, slots=True)
class AftercareParameters(Checked):
    """Callbacks: constant hazards that compete, debris by what was left behind."""

    debris_per_year: float = number(0.10, "1/year", 0, 5,
        "Debris hazard at the reference residue, no filter, no inhibitor")
    reference_residue_g_l: float = number(10.0, "g/L", 0.01, 100, "Residual sludge per litre of system water")
    residue_exponent: float = number(0.9, "-", 0, 3, "Hazard grows with residue to this power")
    filter_hazard_ratio: float = number(0.6, "ratio", 0.05, 1, "Debris hazard with a filter on the return")
    flow_filter_hazard_ratio: float = number(0.75, "ratio", 0.05, 1, "The same with it on the flow, or there before")
    inhibitor_hazard_ratio: float = number(0.75, "ratio", 0.05, 1, "Debris hazard with inhibitor dosed")
    boiler_fault_per_year: float = number(0.05, "1/year", 0, 5, "Competing cause: boiler fault")
    leak_per_year: float = number(0.012, "1/year", 0, 5, "Competing cause: leak, in a new system")
    leak_per_year_of_age: float = number(0.0007, "1/year²", 0, 1, "Growth of the leak hazard with age")
    other_per_year: float = number(0.025, "1/year", 0, 5, "Competing cause: anything else")


@dataclass(frozen=True, slots=True)
class LogParameters(Checked):
    """What gets written down, and how well."""

    gap_factor: float = number(1, "ratio", 0, 4, "All chances of an empty cell times this")
    reading_minutes: float = number(15, "min", 1, 120, "Minutes between two readings")
    reading_skip_share: float = number(0.06, "share", 0, 1, "Readings not taken")
    lost_catch_share: float = number(0, "share", 0, 1, "Weighings that never reach the log")
    water_sample_share: float = number(0.6, "share", 0, 1, "Surveys with a water sample")
    pipe_run_share: float = number(0.35, "share", 0, 1, "Surveys with the pipe runs measured")
