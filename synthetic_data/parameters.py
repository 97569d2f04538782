"""Every number of the simulated world: value, unit, meaning, source, and the range it must lie in.

`assumption` as a source means: chosen so that jobs look plausible to the trade; nothing was measured.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from datetime import date

from synthetic_data.parameter_fields import ASSUMPTION, Checked
from synthetic_data.parameter_fields import number as _p
from synthetic_data.parameters_crew import AftercareParameters, CrewParameters, FaultParameters, LogParameters

__all__ = [
    "ASSUMPTION", "AftercareParameters", "CrewParameters", "FaultParameters", "FlushParameters", "FoulingParameters",
    "LogParameters", "Parameters", "parameter_rows",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class FoulingParameters(Checked):
    """How sludge came to be: corrosion since the last clean, and what settled where."""

    loss_um_per_year: float = _p(1.8, "µm/year", 0, 20,
        "Steel lost in a sealed, untreated, never topped up system in its first year",
        "corrosion texts: 1 to 10 µm/year in airtight systems (from memory)")
    vented_factor: float = _p(1.6, "ratio", 1, 5, "Open-vented against sealed")
    pumping_over_share: float = _p(0.15, "share", 0, 1, "Open-vented systems that draw air through the vent")
    pumping_over_large_share: float = _p(0.45, "share", 0, 1, "The same, 12 emitters or more: a stronger pump")
    pumping_over_factor: float = _p(1.5, "ratio", 1, 5, "What that air does to the corrosion")
    topup_gain: float = _p(0.6, "ratio", 0, 3, "Sealed: corrosion grows by 1 + gain · ln(1 + top-ups a year)")
    vented_topup_gain: float = _p(0.2, "ratio", 0, 3, "The same, open-vented: most air comes by the tank anyway")
    one_pipe_factor: float = _p(1.25, "ratio", 1, 3, "One-pipe against two-pipe: slow flow lets it settle")
    microbore_factor: float = _p(0.9, "ratio", 0.3, 2, "Microbore against two-pipe")
    age_exponent: float = _p(0.7, "-", 0.3, 1, "Sludge grows with years to this power: oxide films protect")
    deposit_limit_kg_m2: float = _p(0.9, "kg/m²", 0.05, 5, "Sludge per wetted steel that is never quite reached")
    inhibitor_factor: float = _p(0.62, "ratio", 0, 1, "Sludge where inhibitor was kept up and never topped up")
    inhibitor_washout_topups: float = _p(10, "1/year", 0.1, 100, "Top-ups a year that wash 63 % of that benefit out")
    filter_factor: float = _p(0.72, "ratio", 0, 1, "Sludge where a magnetic filter caught part of it before")
    left_by_last_clean: float = _p(0.25, "share", 0, 1, "Share of the older sludge that the last clean left")
    house_sd_log: float = _p(0.33, "ln", 0, 2, "Scatter between houses that no survey can see")
    emitter_sd_log: float = _p(0.5, "ln", 0, 2, "Scatter between emitters of a house")
    upper_floor_factor: float = _p(0.8, "ratio", 0.2, 1, "Sludge in an emitter one floor higher up")
    consolidated_share: float = _p(0.38, "share", 0, 0.9, "Share baked on in a new system")
    consolidated_per_year: float = _p(0.007, "1/year", 0, 0.05, "Growth of that share with age")
    background_non_magnetic: float = _p(0.05, "ratio", 0, 1, "Haematite, scale, flux / magnetite in any system")
    sand_share_vented: float = _p(0.2, "share", 0, 1, "Open-vented systems that hold sand, cement or tank debris")
    sand_share_sealed: float = _p(0.05, "share", 0, 1, "Sealed systems that do")
    sand_kg_per_emitter: float = _p(0.09, "kg", 0, 2, "Median of that debris per emitter, where there is any")
    cold_kg_per_m: float = _p(0.42, "kg/m", 0.01, 5, "Sludge per metre of emitter at which half are cold below")


@dataclass(frozen=True, slots=True)
class FlushParameters(Checked):
    """What one minute of flushing does."""

    machine_head_kpa: float = _p(200, "kPa", 20, 600, "Head of the machine with no flow")
    machine_volume_l: float = _p(14, "L", 1, 60, "Water in machine and hoses")
    valve_kv_m3_h: float = _p(1.3, "m³/h", 0.2, 6, "Kv of an emitter's two valves, open")
    one_pipe_bypass_kv_m3_h: float = _p(4.0, "m³/h", 0.5, 20, "Kv of the loop that bypasses one-pipe emitters")
    reference_flow_l_min: float = _p(15, "L/min", 1, 60, "Flow through an emitter at which rates are stated")
    loosen_per_min: float = _p(0.006, "1/min", 0, 0.2, "Consolidated → loose at 50 °C, reference flow")
    loosen_floor: float = _p(0.12, "share", 0, 1, "Part of that rate that goes on without flow")
    lift_per_min: float = _p(0.06, "1/min", 0, 1, "Loose → carried by the water at 50 °C, reference flow")
    lift_flow_exponent: float = _p(1.35, "-", 0.5, 3, "Lift grows with flow to this power")
    loosen_kj_mol: float = _p(32, "kJ/mol", 0, 120, "Activation energy of loosening (heat softens rust)")
    lift_kj_mol: float = _p(9, "kJ/mol", 0, 60, "Activation energy of lifting (thinner, warmer water)")
    settle_per_min: float = _p(0.03, "1/min", 0, 1, "Carried → loose again")
    predose_softened: float = _p(0.38, "share", 0, 1, "Consolidated softened by pre-dosing without end")
    predose_days: float = _p(6, "days", 0.5, 60, "Days to reach 63 % of that")
    dose_exponent: float = _p(0.5, "-", 0, 2, "Effect grows with dose / label dose to this power")
    agitation_gain: float = _p(0.4, "ratio", 0, 3, "Extra lift by valve bounce or vibration; both: 1.6 times it")
    reversal_gain: float = _p(0.12, "ratio", 0, 2, "Extra lift by reversing the flow")
    long_emitter_exponent: float = _p(0.7, "-", 0, 3, "Lift in emitters over 1.2 m falls as (1.2 m / length)^this")
    magnet_efficiency: float = _p(0.72, "share", 0, 1, "Caught in one pass by a clean magnet")
    magnet_capacity_kg: float = _p(0.75, "kg", 0.05, 10, "Dry magnetite at which it holds hardly more")
    strainer_share: float = _p(0.025, "share", 0, 1, "Magnetite that ends in strainer and machine base instead")
    sand_lift_per_min: float = _p(0.03, "1/min", 0, 1, "Non-magnetic debris → carried, at reference flow")
    sand_trap_share: float = _p(0.45, "share", 0, 1, "Carried non-magnetic debris trapped in one pass")
    strainer_capacity_kg: float = _p(1.2, "kg", 0.1, 10, "Load at which the strainer takes a third of the flow")
    boiler_flush_kw: float = _p(12, "kW", 0, 60, "Heat that the boiler can give into the flush at most")
    set_point_c: float = _p(60, "°C", 20, 75, "Flow temperature usually aimed at; engineers differ by some 5 K")
    room_c: float = _p(18, "°C", 0, 30, "Room temperature")
    practice_effect: float = _p(1, "share", 0, 1,
        "1: chemical, heat, agitation and method work as above; 0: they do nothing, and what is left is the "
        "house's own share")
    fixed_residual_share: float = _p(0.35, "share", 0, 1, "That share, where practices do nothing")


@dataclass(frozen=True, slots=True)
class Parameters:
    """The whole world, and the fixed window of dates in which its jobs lie."""

    fouling: FoulingParameters = FoulingParameters()
    flush: FlushParameters = FlushParameters()
    crew: CrewParameters = field(default_factory=CrewParameters)
    aftercare: AftercareParameters = field(default_factory=AftercareParameters)
    log: LogParameters = field(default_factory=LogParameters)
    faults: FaultParameters = field(default_factory=FaultParameters)
    first_visit: date = date(2021, 1, 4)
    last_visit: date = date(2026, 3, 31)
    followed_until: date = date(2026, 6, 30)

    def __post_init__(self) -> None:
        if not self.first_visit < self.last_visit <= self.followed_until:
            raise ValueError("dates must run first_visit < last_visit <= followed_until")


def parameter_rows(parameters: Parameters | None = None) -> list[tuple[str, str, float, str, str, str]]:
    """(group, name, value, unit, meaning, source) of every number, for the README and its test."""
    world = parameters or Parameters()
    groups = (world.fouling, world.flush, world.crew, world.aftercare, world.log, world.faults)
    return [
        (type(group).__name__.removesuffix("Parameters").lower(), item.name, getattr(group, item.name),
         item.metadata["unit"], item.metadata["meaning"], item.metadata["source"])
        for group in groups
        for item in fields(group)
    ]  # fmt: skip
