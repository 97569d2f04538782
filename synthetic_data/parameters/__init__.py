"""Every number of the simulated world: value, unit, meaning, source, and the range it must lie in.

`assumption` as a source means: chosen so that jobs look plausible to the trade; nothing was measured.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field
from datetime import date

from synthetic_data.parameters.crew_numbers import AftercareParameters, CrewParameters, FaultParameters, LogParameters
from synthetic_data.parameters.fields import ASSUMPTION
from synthetic_data.parameters.world_numbers import (
    FlushParameters,
    FoulingParameters,
    HouseParameters,
    ReleaseParameters,
)

__all__ = [
    "ASSUMPTION",
    "AftercareParameters",
    "CrewParameters",
    "FaultParameters",
    "FlushParameters",
    "FoulingParameters",
    "HouseParameters",
    "LogParameters",
    "Parameters",
    "ReleaseParameters",
    "parameter_rows",
]


@dataclass(frozen=True, slots=True)
class Parameters:
    """The whole world, and the fixed window of dates in which its jobs lie."""

    house: HouseParameters = field(default_factory=HouseParameters)
    fouling: FoulingParameters = field(default_factory=FoulingParameters)
    flush: FlushParameters = field(default_factory=FlushParameters)
    release: ReleaseParameters = field(default_factory=ReleaseParameters)
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
    groups = (
        world.house,
        world.fouling,
        world.flush,
        world.release,
        world.crew,
        world.aftercare,
        world.log,
        world.faults,
    )
    return [
        (
            type(group).__name__.removesuffix("Parameters").lower(),
            item.name,
            getattr(group, item.name),
            item.metadata["unit"],
            item.metadata["meaning"],
            item.metadata["source"],
        )
        for group in groups
        for item in dataclasses.fields(group)  # this package has a module of that name
    ]
