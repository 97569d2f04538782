"""Named worlds. Add one by adding an entry: everything else reads `SCENARIOS`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType

from pipeline.contract import SIMULATED_PREFIX
from synthetic_data.parameters import Parameters

_USUAL = Parameters()


@dataclass(frozen=True, slots=True)
class Scenario:
    """A world: what it is for, its numbers, how many jobs unless told, and the invented firm."""

    name: str
    meaning: str
    parameters: Parameters
    default_jobs: int = 1000
    firm: str = "quillmarsh"

    @property
    def firm_id(self) -> str:
        """The firm's id; its prefix marks every row as simulated."""
        return SIMULATED_PREFIX + self.firm


_ALL = (
    Scenario("usual", "A firm of ordinary habits in the invented district of Quillmarsh", _USUAL),
    Scenario(
        "neglected_stock",
        "Older, dirtier systems: more corrosion, more of it baked on, more sand",
        replace(_USUAL, fouling=replace(
            _USUAL.fouling, loss_um_per_year=1.8 * _USUAL.fouling.loss_um_per_year, consolidated_share=0.5,
            sand_share_vented=0.4, inhibitor_factor=0.85,
        )),
        firm="gorsebank",
    ),
    Scenario(
        "lazy_loggers",
        "The usual world, badly written down: many empty cells, skipped readings, some weighings lost",
        replace(_USUAL, log=replace(
            _USUAL.log, gap_factor=3.0, reading_skip_share=0.35, reading_minutes=30, lost_catch_share=0.08,
            water_sample_share=0.25, pipe_run_share=0.1,
        )),
        firm="slackwater",
    ),
    Scenario(
        "no_effects",
        "Chemical, heat, agitation, method, filter and inhibitor do nothing; effort still follows looks",
        replace(
            _USUAL,
            flush=replace(_USUAL.flush, practice_effect=0.0),
            aftercare=replace(_USUAL.aftercare, debris_per_year=0.08),
        ),
        firm="evenmoor",
    ),
    Scenario(
        "new_firm",
        "The usual world, few jobs yet, all of them in the last months of the window",
        replace(_USUAL, first_visit=date(2025, 11, 3)),
        default_jobs=25,
        firm="firstbrook",
    ),
)  # fmt: skip

SCENARIOS: Mapping[str, Scenario] = MappingProxyType({scenario.name: scenario for scenario in _ALL})
