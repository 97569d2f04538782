"""Named worlds. Add one by adding an entry: everything else reads `SCENARIOS`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType
from typing import Any

import numpy as np

from pipeline.contract import SIMULATED_PREFIX
from synthetic_data.house.house import MICROBORE, Houses
from synthetic_data.parameters import Parameters

_USUAL = Parameters()


@dataclass(frozen=True, slots=True)
class Scenario:
    """A world: what it is for, its numbers, how many jobs unless told, and the invented firm or firms."""

    name: str
    meaning: str
    parameters: Parameters
    default_jobs: int = 1000
    firm: str = "quillmarsh"
    firms: int = 1
    microbore_share: float = 0.0

    @property
    def firm_ids(self) -> tuple[str, ...]:
        """The firms' ids; their prefix marks every row as simulated."""
        if self.firms == 1:
            return (SIMULATED_PREFIX + self.firm,)
        return tuple(f"{SIMULATED_PREFIX}{self.firm}-{number:02d}" for number in range(1, self.firms + 1))

    @property
    def has_slips(self) -> bool:
        """True where some rows are written wrongly, twice, or corrected later."""
        log = self.parameters.log
        return log.unit_slip_share + log.twice_share + log.conflict_share + log.late_share > 0

    def estate(self, houses: Houses) -> Houses:
        """The houses, built again with a microbore manifold in so large a share of them, every nth left alone."""
        if self.microbore_share == 0:
            return houses
        number = np.arange(len(houses.layout))
        chosen = np.floor((number + 1) * self.microbore_share) > np.floor(number * self.microbore_share)
        bore = np.where(number % 5 < 3, 8.0, 10.0)[:, None] + np.zeros(houses.tail_mm.shape)
        fresh = chosen & (houses.layout != MICROBORE)
        return replace(
            houses,
            layout=np.where(chosen, MICROBORE, houses.layout),
            tail_mm=np.where(fresh[:, None], bore, houses.tail_mm),
        )


def world(**groups: dict[str, Any]) -> Parameters:
    """The usual world with some numbers changed, group by group."""
    return replace(_USUAL, **{name: replace(getattr(_USUAL, name), **changed) for name, changed in groups.items()})


_ALL = (
    Scenario("usual", "A firm of ordinary habits in the invented district of Quillmarsh", _USUAL),
    Scenario(
        "neglected_stock",
        "Older, dirtier systems: more corrosion, more of it baked on, more sand",
        world(
            fouling={
                "ingress_g_emitter": 2.5 * _USUAL.fouling.ingress_g_emitter,
                "bake_per_year": 0.14,
                "tank_turnover": 2.0 * _USUAL.fouling.tank_turnover,
                "sand_share_vented": 0.4,
                "inhibitor_factor": 0.85,
            }
        ),
        firm="gorsebank",
    ),
    Scenario(
        "microbore_estate",
        "Nine houses in ten on a microbore manifold: thin tails throttle the flow",
        _USUAL,
        firm="finchpipe",
        microbore_share=0.9,
    ),
    Scenario(
        "lazy_loggers",
        "The usual world, badly written down: gaps, lost weighings, wrong units, double and late entries",
        world(
            log={
                "gap_factor": 3.0,
                "reading_skip_share": 0.35,
                "reading_minutes": 30,
                "lost_catch_share": 0.08,
                "water_sample_share": 0.25,
                "pipe_run_share": 0.1,
                "five_minute_share": 0.8,
                "one_pipe_missed": 0.7,
                "unit_slip_share": 0.01,
                "twice_share": 0.01,
                "conflict_share": 0.004,
                "late_share": 0.1,
            }
        ),
        firm="slackwater",
    ),
    Scenario(
        "drifting_scales",
        "The usual world, weighed on scales that drift until they are set again",
        world(log={"scale_drift_per_year": 0.15}),
        firm="tiltbeam",
    ),
    Scenario(
        "no_effects",
        "Chemical, heat, agitation, method, filter and inhibitor do nothing; effort still follows looks",
        world(flush={"practice_effect": 0.0}, aftercare={"practice_effect": 0.0, "fixed_residual_share": 0.22}),
        firm="evenmoor",
    ),
    Scenario(
        "hidden_skill",
        "Care on the day, written nowhere, moves both what is done and what comes of it",
        world(crew={"hidden_push": 1.0}, aftercare={"hidden_log": 0.6}),
        firm="deftwick",
    ),
    Scenario(
        "two_speeds",
        "Debris leaves in two speeds: a fast part, and a large baked part that comes slowly for hours",
        world(
            fouling={"bake_per_year": 0.13},
            release={"two_speeds": 0.5, "lift_per_min": 2.0 * _USUAL.release.lift_per_min},
        ),
        firm="twainford",
    ),
    Scenario(
        "faulty_days",
        "Every third job has one planted fault: bypass, strainer, connection, sand, weep or full trap",
        world(faults={"faulty_share": 1 / 3}),
        firm="snagwell",
    ),
    Scenario(
        "new_firm",
        "The usual world, few jobs yet, all of them in the last months of the window",
        replace(_USUAL, first_visit=date(2025, 11, 3)),
        default_jobs=25,
        firm="firstbrook",
    ),
    Scenario(
        "pool",
        "Sixty firms of unequal size and habit, as a trade body would pool them",
        world(crew={"firm_sd": 0.7, "habit_sd": 0.6}),
        default_jobs=6000,
        firm="pool",
        firms=60,
    ),
    Scenario(
        "aluminium_exchangers",
        "Nine heat sources in ten have an aluminium exchanger, half of them unasked for",
        world(house={"aluminium_share": 0.9}, aftercare={"early_leak_share": 0.03}),
        firm="lightmere",
    ),
    Scenario(
        "open_tanks",
        "Every machine has a tank that is open to the air: sealed systems lose their pressure, boilers lock out",
        world(crew={"open_tank_share": 1.0}),
        firm="brimstead",
    ),
    Scenario(
        "blocked_outright",
        "One emitter in seven has a tail or panel blocked outright, so that no flow reaches it",
        world(house={"blocked_share": 0.15}),
        firm="stopwell",
    ),
    Scenario(
        "weak_pipes",
        "Cleaning opens pinholes and glands: weeps in every fourth job, early leaks in every eighth",
        world(aftercare={"early_leak_share": 0.12}, faults={"weep_share": 0.25}),
        firm="thinwall",
    ),
    Scenario(
        "heat_pumps",
        "Nine houses in ten have a heat pump, most of them with a buffer that half of the surveys do not name",
        world(house={"heat_pump_share": 0.9}),
        firm="warmdraught",
    ),
    Scenario(
        "half_open",
        "A zone valve or by-pass left half open in every second job",
        world(faults={"half_open_share": 0.5}),
        firm="ajarley",
    ),
    Scenario(
        "stuck_pins",
        "Every third thermostatic body has a pin that is stuck nearly shut",
        world(house={"stuck_pin_share": 0.33}),
        firm="pinmoor",
    ),
    Scenario(
        "antifreeze",
        "Glycol in nine systems in ten: thicker water, half of the surveys do not say so",
        world(house={"antifreeze_share": 0.9}),
        firm="frostbeck",
    ),
    Scenario(
        "underfloor",
        "Underfloor loops on a manifold downstairs, panels above, in eight houses in ten",
        world(house={"underfloor_share": 0.8}),
        firm="loopholm",
    ),
    Scenario(
        "jelly_and_scale",
        "Light jelly and scale beside the magnetite, more than half as much: no magnet holds it",
        world(fouling={"background_non_magnetic": 0.6, "bulk_kg_l": 0.5}, release={"sand_um": 60, "cohesion": 2.5}),
        firm="gelbrook",
    ),
    Scenario(
        "steel_and_plastic",
        "Steel mains, and plastic without a barrier where there is plastic",
        world(house={"steel_share": 0.7, "plastic_share": 0.8, "no_barrier_share": 1.0}),
        firm="ironlea",
    ),
    Scenario(
        "pump_fails",
        "The machine's pump fails in every third job, half an hour to three hours on",
        world(faults={"pump_fails_share": 0.33}),
        firm="lullwater",
    ),
)

SCENARIOS: Mapping[str, Scenario] = MappingProxyType({scenario.name: scenario for scenario in _ALL})
