"""Simulated chunks that several tests look at (read only), and a maker of small worlds under known conditions."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from pipeline.contract.job_log import EMITTER_KINDS
from synthetic_data.chunk import Chunk
from synthetic_data.crew.crew import Plans
from synthetic_data.flush import world as setting
from synthetic_data.flush.defects import Defects
from synthetic_data.flush.flush import point_flow
from synthetic_data.flush.flush_state import State
from synthetic_data.flush.world import World
from synthetic_data.house.house import MICROBORE, MOST_EMITTERS, ONE_PIPE, Houses
from synthetic_data.house.system import Systems
from synthetic_data.parameters import Parameters
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks

JOBS = 500


Drawn = Callable[[str, int, int], list[Chunk]]


@pytest.fixture(scope="session")
def drawn(made_once: Callable[[str, Callable[[Path], None]], Path]) -> Drawn:
    """`drawn(scenario, jobs, seed)`: the chunks of a world, drawn once for all workers. Read only."""

    @cache
    def chunks(scenario: str, jobs: int, seed: int) -> list[Chunk]:
        def draw(folder: Path) -> None:
            found = list(simulate_chunks(SCENARIOS[scenario], jobs=jobs, seed=seed))
            (folder / "chunks").write_bytes(pickle.dumps(found))

        kept = made_once(f"chunks-{scenario}-{jobs}-{seed}", draw) / "chunks"
        return list(pickle.loads(kept.read_bytes()))

    return chunks


@pytest.fixture(scope="session")
def chunk(drawn: Drawn) -> Chunk:
    """500 jobs of the usual world."""
    return drawn("usual", JOBS, 11)[0]


@pytest.fixture(scope="session")
def many(drawn: Drawn) -> list[Chunk]:
    """2000 jobs of the usual world, another seed."""
    return drawn("usual", 2000, 2)


@pytest.fixture(scope="session")
def hidden_chunk(drawn: Drawn) -> Chunk:
    """500 jobs where care on the day, written nowhere, moves both what is done and what comes of it."""
    return drawn("hidden_skill", JOBS, 11)[0]


def still_house(emitters: int, kind: str, length_mm: float, layout: int) -> Houses:
    """One house of equal emitters, sealed, ten years old."""
    present = (np.arange(MOST_EMITTERS) < emitters)[None, :]
    one, zero, zeros = present * 1.0, np.zeros(1, dtype=np.int64), np.zeros(present.shape, dtype=np.int64)
    return Houses(
        property_kind=zero,
        floor_count=zero + 1,
        district=zero,
        mains_us_cm=np.array([300.0]),
        age_years=zero + 10,
        vented=np.zeros(1, dtype=bool),
        layout=zero + layout,
        boiler_kind=zero,
        boiler_kw=np.array([24.0]),
        main_bore_mm=np.array([22.0]),
        emitter_count=zero + emitters,
        present=present,
        kind=zeros + EMITTER_KINDS.index(kind),
        height_mm=600.0 + zeros,
        length_mm=length_mm + zeros,
        floor=zeros,
        tail_mm=(8.0 if layout == MICROBORE else 15.0) + zeros,
        contents_l=3.5 * one,
        area_m2=1.2 * one,
        output_w=1000.0 * one,
        thermostatic=np.zeros(present.shape, dtype=bool),
        aluminium=np.zeros(1, dtype=bool),
        antifreeze=np.zeros(1, dtype=bool),
        buffer_l=np.zeros(1),
        coil_l=np.zeros(1),
        valve_factor=np.ones(present.shape),
        is_steel=np.zeros(1, dtype=bool),
    )


def still_system(house: Houses) -> Systems:
    """Its pipework: mains of 22 mm, tails of 6 m (two-pipe, one-pipe) or 12 m of 8 mm (microbore)."""
    one, layout = house.present * 1.0, int(house.layout[0])
    micro, loop, n = layout == MICROBORE, layout == ONE_PIPE, int(house.emitter_count[0])
    tail_m = np.full(one.shape, 12.0 if micro else 6.0)
    fixed = {
        "source_run_m": 6.0,
        "source_l": 4.0,
        "pipe_l": 8.0,
        "volume_l": 12.0 + 3.5 * n,
        "tank_l": 0.0,
        "main_length_m": 6.0 + 2.0 * n,
        "branch_length_m": 6.0 * n,
        "plastic_share": 0.0,
        "plastic_l": 0.0,
        "heating_hours": 8.0,
        "main_bore_mm": 20.2,
    }
    return Systems(
        take_off_m=one * (0.0 if micro else 0.8 if loop else 2.0),
        tail_m=tail_m,
        tail_bore_mm=np.full(one.shape, 6.8 if micro else 13.6),
        has_barrier=np.ones(1, dtype=bool),
        **{name: np.array([value]) for name, value in fixed.items()},
    )


def changed_parameters(changes: dict[str, float]) -> Parameters:
    """The usual numbers with some changed, by `group__name`."""
    parameters = Parameters()
    for key, value in changes.items():
        group, name = key.split("__")
        parameters = replace(parameters, **{group: replace(getattr(parameters, group), **{name: value})})
    return parameters


def still_world_of(
    *,
    loose_kg: float = 0.5,
    consolidated_kg: float = 0.5,
    sand_kg: float = 0.1,
    machine_l_min: float = 40.0,
    length_mm: float = 1000.0,
    kind: str = "panel_11",
    layout: int = 0,
    emitters: int = 1,
    start_c: float = 20.0,
    numbers: dict[str, float] | None = None,
    defects: dict[str, float] | None = None,
    **plan: Any,
) -> tuple[World, State]:
    """A world of one job with the flow already pointed, by everything that a test may want to set."""
    parameters, house = changed_parameters(numbers or {}), still_house(emitters, kind, length_mm, layout)
    staff = SimpleNamespace(
        hose_m=np.array([7.5]),
        hose_bore_mm=np.array([25.0]),
        machine_l_min=np.array([machine_l_min]),
        magnet_kg=np.array([0.75]),
        open_tank=np.zeros(1, dtype=bool),
    )
    wrong = replace(Defects.none(1), **{name: np.array([value]) for name, value in (defects or {}).items()})
    plans, one = still_plan(house, **plan), house.present * 1.0
    rng, monday = np.random.default_rng(1), np.zeros(1, dtype=np.int64)
    world = setting.prepare(rng, house, still_system(house), plans, staff, parameters, monday, wrong)
    fouling = SimpleNamespace(loose_kg=loose_kg * one, consolidated_kg=consolidated_kg * one, sand_kg=sand_kg * one)
    state = setting.first_state(world, fouling, np.array([start_c]))
    state.is_faulty[:] = wrong.from_min > 0
    point_flow(state, world, np.array([0]))
    state.flow_l_min[:] = state.clear_flow_l_min
    return world, state


@pytest.fixture
def still_world() -> Callable[..., tuple[World, State]]:
    """A maker of worlds of one job, see `still_world_of`."""
    return still_world_of


def still_plan(house: Houses, **changed: float) -> Plans:
    """A plan of label dose, no pre-dose, no agitation, on a good connection; `changed` by field."""
    usual: dict[str, float] = {
        "engineer": 0,
        "crew_size": 1,
        "predose_days": 0,
        "dose_ratio": 1.0,
        "heat_source": 0,
        "heater_kw": 0.0,
        "connection": 0,
        "isolation": 0,
        "agitation": 0,
        "half_drained": 0,
        "reversed": False,
        "strainer_checked": True,
        "filter_fitted": 0,
        "inhibitor_dosed": True,
        "weigh_minutes": 10.0,
        "leave_wet_g_min": 5.0,
        "dwell_minutes": 12.0,
        "full_share": 0.7,
        "wet_ratio": 1.9,
        "set_point_c": 60.0,
        "mains_l_min": 16.0,
        "dump_minutes": 0.0,
        "diligence": 0.0,
        "lunch_at_min": 720,
        "lunch_minutes": 0,
        "rinse_minutes": 20,
        "arrive_min": 480,
        "start_min": 540,
        "home_min": 990,
        "clear_minutes": 30,
    }
    values = {name: np.array([value]) for name, value in {**usual, **changed}.items()}
    order = np.where(house.present, np.arange(MOST_EMITTERS)[None, :] * 1.0, np.inf)
    return Plans(order_key=order, **values)
