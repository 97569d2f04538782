"""What the quote may know: survey and plan columns of `ftr_quote`, as numbers.

Choices become one 0/1 column each, from the contract's fixed words: an unknown word is missing in all of
them. Yes/no becomes 1/0. Missing stays missing (NaN): the survey may leave any answer out. A name (who leads)
becomes a number that stands for it and is no amount: only `models.quote.estimator.engineer_effects` can read it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from pipeline.contract import BUILT
from pipeline.contract.columns import Column

if TYPE_CHECKING:
    import pandas as pd
    import polars as pl

Floats = NDArray[np.float64]
Frame: TypeAlias = "pd.DataFrame | pl.DataFrame"
"""Rows of `ftr_quote`: as Polars where they are asked for, as pandas where they are learnt from. pandas is not imported
here: it takes a cold quote longer than the answer."""

LEFT_OUT: Mapping[str, str] = MappingProxyType(
    {
        "visit_date": "orders the jobs in time; a forecast must not lean on the calendar",
        "is_simulated": "says where a job comes from, not what the house is like",
        "cold_share": "cold_count / emitter_count: one more warm emitter lowers it, against the constraints",
    }
)
"""Columns of `ftr_quote` that no model reads, each with the reason."""

GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "size": (
            "system_volume_l",
            "volume_spread_share",
            "emitter_count",
            "mean_emitter_length_mm",
            "long_emitter_count",
            "floor_count",
            "boiler_output_kw",
        ),
        "age and history": (
            "age_years",
            "years_since_clean",
            "was_cleaned_before",
            "inhibitor_at_survey",
            "filter_at_survey",
            "topups_per_year",
        ),
        "survey signs": (
            "cold_count",
            "known_building_debris",
            "survey_ph",
            "survey_conductivity_us_cm",
            "survey_turbidity_ntu",
            "survey_iron_mg_l",
            "conductivity_excess_us_cm",
            "water_known",
        ),
        "layout": (
            "panel_share",
            "loop_share",
            "upstairs_share",
            "min_tail_bore_mm",
            "property_kind",
            "system_type",
            "pipe_layout",
            "main_bore_mm",
            "boiler_kind",
        ),
        "method": (
            "engineer_id",
            "crew_size",
            "predose_days",
            "predose_label_ratio",
            "heat_source",
            "heater_kw",
            "connection",
            "machine_max_flow_l_min",
            "isolation",
            "agitation",
        ),
    }
)
"""Groups of survey and plan answers in which the reasons are given; every feature is in exactly one."""


NAMES: tuple[str, ...] = ("engineer_id",)
"""Columns that hold a name: neither an amount nor one of fixed words."""

NAME_CODES = 1 << 24
"""Numbers that a name, and the firm it belongs to, may become."""


def feature_columns() -> tuple[Column, ...]:
    """The columns of `ftr_quote` that the models read, in order."""
    return tuple(
        column
        for column in BUILT["ftr_quote"].columns
        if column.known_by in ("survey", "plan") and column.name not in LEFT_OUT
    )


@dataclass(frozen=True, slots=True)
class Feature:
    """One encoded column: where it comes from, which word it stands for (choices only), its group."""

    name: str
    column: str
    choice: str | None
    group: str


def _features() -> tuple[Feature, ...]:
    group_of = {name: group for group, names in GROUPS.items() for name in names}
    made: list[Feature] = []
    for column in feature_columns():
        group = group_of[column.name]
        if column.choices:
            made += [Feature(f"{column.name}={c}", column.name, c, group) for c in column.choices]
        else:
            made.append(Feature(column.name, column.name, None, group))
    return tuple(made)


FEATURES: tuple[Feature, ...] = _features()
"""The encoded columns, in order: the columns of every matrix X."""

FEATURE_NAMES: tuple[str, ...] = tuple(feature.name for feature in FEATURES)
POSITION: Mapping[str, int] = MappingProxyType({name: i for i, name in enumerate(FEATURE_NAMES)})


def _positions() -> Mapping[str, tuple[int, ...]]:
    found: dict[str, tuple[int, ...]] = {}
    for i, feature in enumerate(FEATURES):
        found[feature.column] = (*found.get(feature.column, ()), i)
    return MappingProxyType(found)


POSITIONS: Mapping[str, tuple[int, ...]] = _positions()
"""The encoded columns that each column of `ftr_quote` fills."""


NAMED: NDArray[np.intp] = np.array([POSITION[name] for name in NAMES])
"""The encoded columns that hold names."""


def encode(frame: Frame) -> Floats:
    """Matrix (n, p) of the features in the order of `FEATURES`; a column not in the frame is missing."""
    x = np.full((len(frame), len(FEATURES)), np.nan)
    for column, at in POSITIONS.items():
        if column not in frame.columns:
            continue
        if column in NAMES:
            x[:, at[0]] = name_codes(frame, column)
        elif FEATURES[at[0]].choice is None:
            x[:, at[0]] = as_numbers(frame[column])
        else:
            words = _objects(frame[column])
            is_word = np.stack([words == FEATURES[i].choice for i in at], axis=1).astype(bool)
            x[:, at] = np.where(is_word.any(axis=1, keepdims=True), is_word, np.nan)
    return x


def amounts(x: Floats) -> Floats:
    """The feature rows (n, p) with names left out (NaN): for whatever takes every column as an amount."""
    told = x.copy()
    told[:, NAMED] = np.nan
    return told


def job_keys(frame: Frame) -> list[tuple[str, str]]:
    """Firm and job of each row, as text."""
    firms, jobs = (frame[name].to_list() for name in ("firm_id", "job_id"))
    return [(str(firm), str(job)) for firm, job in zip(firms, jobs, strict=True)]


def name_codes(frame: Frame, column: str) -> Floats:
    """Names as numbers (n,): firm · `NAME_CODES` + name, each from its own hash; the same in every book and run."""
    names = _objects(frame[column])
    firms = _objects(frame["firm_id"]) if "firm_id" in frame.columns else [""] * len(frame)
    said = zip(firms, names, strict=True)
    return np.array([name_code(str(firm), str(name)) if name != "" else np.nan for firm, name in said], dtype=float)


def name_code(firm: str, name: str) -> int:
    """The number that stands for a name of that firm; below 2⁴⁸, so that a float holds it exactly."""
    return _hash(firm) * NAME_CODES + _hash(name)


@lru_cache(maxsize=4096)
def _hash(text: str) -> int:
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "big") % NAME_CODES


def as_numbers(values: pd.Series | pl.Series) -> Floats:
    """Numbers or yes/no as float with NaN for missing; anything that is no number is missing."""
    plain = np.asarray(values)
    if plain.dtype.kind in "biuf":
        return plain.astype(float)
    return np.array([_number(value) for value in plain.tolist()], dtype=float)


def _number(value: Any) -> float:
    try:
        return float(value)
    except (TypeError, ValueError):
        return np.nan


def _objects(values: Any) -> NDArray[np.object_]:
    """The values of a column as they are (n,), missing ones as empty text."""
    if hasattr(values, "fill_null"):  # Polars
        return np.array(["" if value is None else value for value in values.to_list()], dtype=object)
    return np.asarray(values.to_numpy(dtype=object, na_value=""))
