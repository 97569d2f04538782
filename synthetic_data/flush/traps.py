"""What a crew takes down while the water runs: weighings of the traps, readings of the water."""

from __future__ import annotations

import numpy as np

from models.physics.water import density_kg_m3
from synthetic_data.flush.flush_state import DONE, FLUSHING, MACHINE_BASE, MAGNET, STRAINER, WHOLE_SYSTEM, Events, State
from synthetic_data.flush.release import clouding
from synthetic_data.flush.world import World
from synthetic_data.house.house import Floats, Ints

ATMOSPHERE_BAR = 1.0133
SAFETY_VALVE_BAR = 3.0
LEAST_VESSEL_L = 8.0
_WEIGHED_FROM_KG = 0.004
SAND_WET_RATIO = 1.25
"""Wet over dry mass of drained sand at porosity 0.4: 1 + 0.998 · 0.4 / (2.65 · 0.6) (arithmetic)."""


def focus(s: State, rows: Ints) -> Ints:
    """Emitter that has the flow: a station of one while flushing; else the whole system."""
    opened = s.open_now[rows]
    single = (opened.sum(axis=1) == 1) & (s.phase[rows] == FLUSHING)
    return np.where(single, np.argmax(opened, axis=1), WHOLE_SYSTEM)


def pressure_bar(s: State, world: World, rows: Ints) -> Floats:
    """Pressure [bar]. Sealed: a vessel's gas squeezed by the expansion of the water, and what a joint has lost (Boyle's
    law; the water expands from the room's temperature). Open-vented: the height of the head tank, whose vent and feed
    stay open: the water rises into it as it warms, and the tank makes up what a joint loses. A machine whose own tank
    is open leaves a sealed system without pressure.
    """
    p, j = world.parameters.flush, s.row[rows]
    volume_l, cold = world.systems.volume_l[j], world.cold_bar[j]
    grown_l = volume_l * (density_kg_m3(p.room_c) / density_kg_m3(s.temp_c[rows].clip(0.5, 98.0)) - 1.0)
    gas_l = np.maximum(p.vessel_l_per_l * volume_l, LEAST_VESSEL_L) / 2.0
    squeezed = np.maximum(gas_l - grown_l + s.weeped_l[rows], 0.3 * gas_l)
    sealed = np.clip((cold + ATMOSPHERE_BAR) * gas_l / squeezed - ATMOSPHERE_BAR, 0.0, SAFETY_VALVE_BAR)
    return np.where(world.houses.vented[j], cold, np.where(world.is_open[j], 0.0, sealed))


def read(s: State, world: World, minute: int, events: Events) -> None:
    """Take a reading where one is due."""
    every = round(world.parameters.log.reading_minutes)
    due = (minute - world.reading_start[s.row]) % every == 0
    rows = np.flatnonzero(due & (s.phase != DONE))
    if len(rows) == 0:
        return
    solids_g_l = s.water[rows].sum(axis=2) @ clouding(world.parameters.release) * 1000.0 / s.circuit_l[rows]
    events.readings.append(
        (
            s.row[rows],
            s.offset_min[rows] + minute,
            focus(s, rows),
            s.flow_l_min[rows],
            s.temp_c[rows],
            s.return_c[rows],
            solids_g_l,
            s.chemical[rows],
            pressure_bar(s, world, rows),
        )
    )


def weigh(s: State, world: World, minute: int, rows: Ints, events: Events) -> Floats:
    """Clean the magnet of those jobs: an event each, and the wet mass as weighed [kg]."""
    j = s.row[rows]
    dry = s.magnet[rows].sum(axis=1)
    noise = world.weigh_noise[j, np.minimum(s.catches[rows], 255)]
    wet = dry * world.plans.wet_ratio[j] * np.exp(world.parameters.crew.weighing_sd_log * noise)
    trap, magnetic = np.full(len(rows), MAGNET), np.ones(len(rows))
    events.weighings.append((j, s.offset_min[rows] + minute, focus(s, rows), trap, dry, wet, magnetic))
    s.caught[rows] += s.magnet[rows]
    s.magnet[rows] = 0.0
    s.catches[rows] += 1
    s.since_weigh_min[rows] = 0.0
    return np.asarray(wet)


def empty_strainer(s: State, world: World, minute: int, rows: Ints, events: Events) -> None:
    """Open strainer and machine base where that crew does so: two weighings a job, whole system."""
    rows = rows[world.plans.strainer_checked[s.row[rows]]]
    s.clogged[rows] = 0.0
    held = s.sand_trap[rows].sum(axis=1) + s.strainer[rows].sum(axis=1)
    rows = rows[held > _WEIGHED_FROM_KG]
    j, held = s.row[rows], held[held > _WEIGHED_FROM_KG]
    magnetic = s.strainer[rows].sum(axis=1) / held
    ratio = magnetic * world.plans.wet_ratio[j] + (1.0 - magnetic) * SAND_WET_RATIO
    wall, whole = s.offset_min[rows] + minute, np.full(len(rows), WHOLE_SYSTEM)
    for trap, share in ((STRAINER, 0.6), (MACHINE_BASE, 0.4)):
        noise = world.weigh_noise[j, 255 - trap - 2 * s.day[rows]]
        wet = held * share * ratio * np.exp(world.parameters.crew.weighing_sd_log * noise)
        events.weighings.append((j, wall, whole, np.full(len(rows), trap), held * share, wet, magnetic))
    s.sand_caught[rows] += s.sand_trap[rows]
    s.strainer_caught[rows] += s.strainer[rows]
    s.sand_trap[rows] = 0.0
    s.strainer[rows] = 0.0
