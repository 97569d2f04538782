"""Simulated chunks that several tests look at. Read only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from models.physics import pipes
from synthetic_data.chunk import CHUNK_JOBS, Chunk
from synthetic_data.crew import Plans
from synthetic_data.flush import World, first_state, method_gain, point_flow
from synthetic_data.flush_state import State
from synthetic_data.house import Houses
from synthetic_data.parameters import Parameters
from synthetic_data.scenarios import SCENARIOS
from synthetic_data.simulate import simulate_chunks
from synthetic_data.system import Systems


@pytest.fixture(scope="session")
def chunk() -> Chunk:
    """500 jobs of the usual world."""
    return next(simulate_chunks(SCENARIOS["usual"], jobs=CHUNK_JOBS, seed=11))


@pytest.fixture(scope="session")
def null_chunk() -> Chunk:
    """The same 500 houses where practices do nothing."""
    return next(simulate_chunks(SCENARIOS["no_effects"], jobs=CHUNK_JOBS, seed=11))


def still_house(length_mm: float) -> Houses:
    """One house with one emitter, two-pipe, sealed, ten years old."""
    one, flags = np.ones((1, 1)), np.ones((1, 1), dtype=bool)
    zero = np.zeros(1, dtype=np.int64)
    return Houses(
        property_kind=zero, floor_count=zero + 1, district=zero, mains_us_cm=np.array([300.0]),
        age_years=zero + 10, vented=np.zeros(1, dtype=bool), layout=zero, boiler_kind=zero,
        boiler_kw=np.array([24.0]), main_bore_mm=np.array([22.0]), emitter_count=zero + 1, present=flags,
        kind=zero[:, None], height_mm=600.0 * one, length_mm=length_mm * one, floor=zero[:, None],
        tail_mm=15.0 * one, contents_l=3.5 * one, area_m2=1.2 * one, output_w=1000.0 * one,
    )  # fmt: skip


@pytest.fixture
def still_world() -> Callable[..., tuple[World, State]]:
    """A maker of one-emitter worlds with the flow already pointed: returns (world, state)."""

    def make(
        *, loose_kg: float = 0.5, consolidated_kg: float = 0.5, heat_kw: float = 0.0, machine_l_min: float = 40.0,
        length_mm: float = 1000.0, bypass_kv: float = 0.0, practice_effect: float = 1.0, **plan: float,
    ) -> tuple[World, State]:  # fmt: skip
        base = Parameters()
        parameters = replace(base, flush=replace(base.flush, practice_effect=practice_effect))
        house, one = still_house(length_mm), np.ones((1, 1))
        bypass = pipes.kv_resistance(bypass_kv) if bypass_kv else np.inf
        system = Systems(
            main_length_m=np.array([20.0]), branch_length_m=np.array([6.0]), plastic_share=np.zeros(1),
            source_l=np.array([4.0]), pipe_l=np.array([8.0]), volume_l=np.array([15.5]),
            main_resistance=np.array([20.0]), branch_resistance=300.0 * one, bypass_resistance=np.array([bypass]),
        )  # fmt: skip
        plans = still_plan(**plan)
        world = World(
            houses=house, systems=system, plans=plans, parameters=parameters,
            station_of=np.zeros((1, 1), dtype=np.int64), stations=np.ones(1, dtype=np.int64),
            magnet_kg=np.array([0.75]), machine_l_min=np.array([machine_l_min]), heat_w=np.array([1000 * heat_kw]),
            gain=method_gain(house, plans, parameters),
            dose=plans.dose_ratio ** (parameters.flush.dose_exponent * practice_effect),
            weigh_noise=np.zeros((1, 256)), reading_start=np.zeros(1, dtype=np.int64),
            weekday=np.zeros(1, dtype=np.int64),
        )  # fmt: skip
        fouling = SimpleNamespace(loose_kg=loose_kg * one, consolidated_kg=consolidated_kg * one, sand_kg=0.1 * one)
        state = first_state(world, fouling, np.array([20.0]))
        point_flow(state, world, np.array([0]))
        return world, state

    return make


def still_plan(**changed: float) -> Plans:
    """A plan of label dose, no pre-dose, no agitation, on a good connection; `changed` by field."""
    usual: dict[str, float] = {
        "engineer": 0, "crew_size": 1, "predose_days": 0, "dose_ratio": 1.0, "heat_source": 0, "heater_kw": 0.0,
        "connection": 0, "connection_kv": 6.0, "isolation": 0, "agitation": 0, "half_drained": 0, "reversed": False,
        "strainer_checked": True, "filter_fitted": 0, "inhibitor_dosed": True, "weigh_minutes": 10.0,
        "leave_wet_g_min": 5.0, "dwell_minutes": 12.0, "full_share": 0.7, "wet_ratio": 1.9, "set_point_c": 60.0,
        "mains_l_min": 16.0, "diligence": 0.0, "lunch_at_min": 720, "lunch_minutes": 0, "rinse_minutes": 20, "arrive_min": 480, "start_min": 540, "home_min": 990, "clear_minutes": 30,
    }  # fmt: skip
    values = {name: np.array([value]) for name, value in {**usual, **changed}.items()}
    return Plans(order_key=np.zeros((1, 1)), **values)
