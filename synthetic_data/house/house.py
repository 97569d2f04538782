"""Houses as built: kind of property, heat source, pipe layout, emitters. No sludge yet.

Shares and sizes are assumptions about an ordinary stock (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.physics import emitters as physics
from pipeline.contract.job_log import EMITTER_KINDS

MOST_EMITTERS = 26
FEWEST_EMITTERS = 3
TWO_PIPE, ONE_PIPE, MICROBORE = 0, 1, 2
HEAT_ONLY, SYSTEM, COMBI, HEAT_PUMP = 0, 1, 2, 3
DISTRICTS = ("QX1", "QX2", "QX3", "QX4", "QX5", "QX7", "QX8", "QX11", "QX12")
"""Invented postcode districts: no real one begins with Q or V."""

_PROPERTY_SHARE = (0.45, 0.13, 0.12, 0.25, 0.05)
_USUAL_EMITTERS = np.array([11.0, 8.0, 5.0, 8.0, 12.0])
_FLOOR_SHARES = np.array([[0, 0.8, 0.2], [1, 0, 0], [0.9, 0.1, 0], [0, 0.75, 0.25], [0.4, 0.4, 0.2]])
_HEIGHTS_MM = np.array([300.0, 450.0, 600.0, 700.0])
_KIND = {name: number for number, name in enumerate(EMITTER_KINDS)}
_OLD_KINDS = ("panel_10", "panel_11", "panel_20", "panel_21", "column")
_NEW_KINDS = ("panel_11", "panel_21", "panel_22", "panel_33", "panel_10")
_KIND_SHARES = (0.42, 0.2, 0.26, 0.07, 0.05), (0.3, 0.3, 0.3, 0.04, 0.06)
PANEL_COUNT = np.array([physics.PANELS.get(name, 2) for name in EMITTER_KINDS], dtype=np.float64)
"""Water-filled panels by kind of emitter; 2 stands for columns, towel rails and the like."""

MAKE_SD_LOG, EMITTER_SD_LOG = 0.13, 0.05
"""Spread of contents between makes, one make a house, and within a house: the table of contents says ± 13 %
(assumption). So a house's truth is not the table's, and its emitters are off together."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Houses:
    """`jobs` houses: arrays of shape (jobs,), and (jobs, 26) for emitters with `present` as the mask.

    `thermostatic`: the valve's body; `buffer_l` and `coil_l`: water on the heating circuit beside emitters, pipes and
    source; `valve_factor`: Kv of an emitter's valves against that of sound ones; `is_steel`: mains of steel pipe.
    """

    property_kind: Ints
    floor_count: Ints
    district: Ints
    mains_us_cm: Floats
    age_years: Ints
    vented: Flags
    layout: Ints
    boiler_kind: Ints
    boiler_kw: Floats
    main_bore_mm: Floats
    emitter_count: Ints
    present: Flags
    kind: Ints
    height_mm: Floats
    length_mm: Floats
    floor: Ints
    tail_mm: Floats
    contents_l: Floats
    area_m2: Floats
    output_w: Floats
    thermostatic: Flags
    aluminium: Flags
    antifreeze: Flags
    buffer_l: Floats
    coil_l: Floats
    valve_factor: Floats
    is_steel: Flags


def _choice(rng: np.random.Generator, shares: Floats) -> Ints:
    """One index a row; each row of `shares` adds up to 1."""
    edges = np.cumsum(shares, axis=1)
    return np.asarray((rng.random((len(shares), 1)) > edges).sum(axis=1).clip(0, shares.shape[1] - 1))


def _layout(rng: np.random.Generator, age: Ints) -> Ints:
    one_pipe = np.where(age > 32, 0.12, 0.025)
    microbore = np.where((age > 20) & (age < 50), 0.2, 0.05)
    return _choice(rng, np.column_stack([1 - one_pipe - microbore, one_pipe, microbore]))


def _boiler(rng: np.random.Generator, vented: Flags) -> Ints:
    vented_shares = np.array([0.93, 0.05, 0.0, 0.02])
    sealed_shares = np.array([0.08, 0.32, 0.54, 0.06])
    return _choice(rng, np.where(vented[:, None], vented_shares, sealed_shares))


def _emitter_sizes(rng: np.random.Generator, age: Ints, shape: tuple[int, int]) -> tuple[Ints, Floats, Floats]:
    """Kind, height and length of every emitter; the last of a house is often a towel rail."""
    old = np.array([_KIND[name] for name in _OLD_KINDS])[rng.choice(5, shape, p=_KIND_SHARES[0])]
    new = np.array([_KIND[name] for name in _NEW_KINDS])[rng.choice(5, shape, p=_KIND_SHARES[1])]
    kind = np.where((age > 27)[:, None], old, new)
    height = _HEIGHTS_MM[rng.choice(4, shape, p=(0.12, 0.13, 0.65, 0.1))]
    length = np.clip(np.round(1000 * np.exp(0.42 * rng.standard_normal(shape)), -2), 400, 2400)
    towel = rng.random(shape) < 0.07
    kind = np.where(towel, _KIND["towel_rail"], kind)
    height = np.where(towel, 200.0 * rng.integers(4, 10, shape), height)
    return kind, height, np.where(towel, 500.0, length)


def _emitter_physics(rng: np.random.Generator, kind: Ints, height: Floats, length: Floats) -> tuple[Floats, ...]:
    """Water [L], wetted steel [m²] and rated output [W]; the emitters of a house are mostly of one make."""
    panels = PANEL_COUNT[kind]
    one_make = MAKE_SD_LOG * rng.standard_normal((len(kind), 1)).clip(-2, 2)
    make = np.exp(one_make + EMITTER_SD_LOG * rng.standard_normal(kind.shape))
    contents = physics.panel_contents_l(panels, height, length) * make
    area = physics.panel_wetted_area_m2(panels, height, length)
    output = np.zeros(kind.shape)
    for name in physics.PANELS:
        output = np.where(kind == _KIND[name], physics.panel_output_w(name, height, length), output)
    column, towel = kind == _KIND["column"], kind == _KIND["towel_rail"]
    contents = np.where(column, 1.9 * contents, np.where(towel, 4.5 * make, contents))
    area = np.where(column, 1.2 * area, np.where(towel, 0.7, area))
    output = np.where(column, 1100.0 * length / 1000, np.where(towel, 450.0, output))
    return contents, area, output


def _beside(rng: np.random.Generator, boiler: Ints, age: Ints, shape: tuple[int, int]) -> dict[str, Floats | Flags]:
    """What hangs on the heat source and the valves: aluminium, antifreeze, buffers, coils, thermostatic bodies."""
    u, z = rng.random((4, len(boiler))), rng.standard_normal((2, len(boiler)))
    is_pump, has_cylinder = boiler == HEAT_PUMP, np.isin(boiler, (HEAT_ONLY, SYSTEM))
    fitted = rng.random((len(boiler), 1)) < np.where(age > 27, 0.5, 0.85)[:, None]
    return {
        "thermostatic": fitted & (rng.random(shape) < 0.8),
        "aluminium": ~is_pump & (u[0] < np.where(age < 20, 0.15, 0.03)),
        "antifreeze": u[1] < np.where(is_pump, 0.25, 0.01),
        "buffer_l": np.where(is_pump & (u[2] < 0.6), np.round(45.0 * np.exp(0.5 * z[0])).clip(15, 200), 0.0),
        "valve_factor": np.ones(shape),
        "is_steel": np.zeros(len(boiler), dtype=bool),
        "coil_l": np.where(has_cylinder & (u[3] < 0.9), 5.0 * np.exp(0.3 * z[1]), 0.0),
    }


def _source_kw(boiler: Ints, house_w: Floats, combi_kw: NDArray[Any]) -> Floats:
    """Output of the heat source [kW], not yet held to what is sold."""
    sized = np.where(boiler == COMBI, combi_kw, np.round(house_w / 1000 * 1.25 + 3))
    # a heat pump meets the emitters at 30 K of excess, of which they give 0.515 of their rating (EN 442)
    return np.where(boiler == HEAT_PUMP, np.round(house_w / 1000 * physics.output_ratio(30.0) + 1), sized)


def build_houses(rng: np.random.Generator, jobs: int) -> Houses:
    """Draw `jobs` houses."""
    kind_of_property = rng.choice(5, jobs, p=_PROPERTY_SHARE)
    spread = np.exp(0.3 * rng.standard_normal(jobs))
    count = np.clip(np.round(_USUAL_EMITTERS[kind_of_property] * spread), FEWEST_EMITTERS, MOST_EMITTERS)
    age = np.clip(np.round(19 * np.exp(0.55 * rng.standard_normal(jobs))), 2, 58).astype(np.int64)
    vented = rng.random(jobs) < 1 / (1 + np.exp(-(age - 23) / 6))
    floors = 1 + _choice(rng, _FLOOR_SHARES[kind_of_property])
    boiler = _boiler(rng, vented)
    layout = _layout(rng, age)
    shape = (jobs, MOST_EMITTERS)
    kind, height, length = _emitter_sizes(rng, age, shape)
    number = np.arange(MOST_EMITTERS)[None, :]
    present = number < count[:, None]
    contents, area, output = _emitter_physics(rng, kind, height, length)
    district = rng.integers(0, len(DISTRICTS), jobs)
    small = np.where(layout == MICROBORE, np.where(rng.random(jobs) < 0.6, 8.0, 10.0), 15.0)
    boiler_kw = _source_kw(boiler, (output * present).sum(axis=1), 24.0 + 6.0 * rng.integers(0, 3, jobs))
    big = (count > 14) & (rng.random(jobs) < 0.6)
    return Houses(
        property_kind=kind_of_property,
        floor_count=floors,
        district=district,
        mains_us_cm=np.round(180.0 + 65.0 * district + 15 * rng.standard_normal(jobs)),
        age_years=age,
        vented=vented,
        layout=layout,
        boiler_kind=boiler,
        boiler_kw=np.clip(boiler_kw, 6, 60),
        main_bore_mm=np.where(big, 28.0, 22.0),
        emitter_count=count.astype(np.int64),
        present=present,
        kind=kind,
        height_mm=height,
        length_mm=length,
        floor=np.minimum(number * floors[:, None] // count[:, None].astype(np.int64), floors[:, None] - 1),
        tail_mm=np.broadcast_to(small[:, None], shape),
        contents_l=contents * present,
        area_m2=area * present,
        output_w=output * present,
        **_beside(rng, boiler, age, shape),  # type: ignore[arg-type]
    )
