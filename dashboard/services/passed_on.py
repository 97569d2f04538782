"""Results and settings from one process of this program to another, as a line of JSON: nothing in it is ever run.

Plain values, tuples, dates, arrays, mappings and the frozen results of `MODULES`; what comes out equals what went in.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from functools import cache
from importlib import import_module
from typing import Any

import numpy as np

MODULES = (
    "models.practice.cohort.audited_jobs",
    "models.practice.results.audit_result",
    "models.practice.results.curve_results",
    "models.practice.results.engineer_results",
    "models.practice.results.pool_results",
    "pipeline.contract.findings",
    "pipeline.contract.firm",
)
"""Where the results are defined that may be passed on; of any other none is made."""


def packed(data: object) -> str:
    """As one line of JSON. TypeError for what cannot be passed on."""
    return json.dumps(_plain(data))


def unpacked(line: str) -> Any:
    """What `packed` was given. ValueError for any other line."""
    try:
        return _made(json.loads(line))
    except (TypeError, LookupError) as error:
        raise ValueError(f"nothing that was packed: {line[:40]}") from error


@cache
def _classes() -> dict[str, type]:
    found = [each for name in MODULES for each in vars(import_module(name)).values() if isinstance(each, type)]
    return {each.__name__: each for each in found if is_dataclass(each) and each.__module__ in MODULES}


def _plain(data: object) -> object:
    if data is None or isinstance(data, bool | int | float | str):
        return data.item() if isinstance(data, np.generic) else data
    if isinstance(data, np.generic):
        return data.item()
    if isinstance(data, list | tuple):
        return {"list" if isinstance(data, list) else "tuple": [_plain(each) for each in data]}
    if isinstance(data, Mapping):
        return {"pairs": [[_plain(key), _plain(value)] for key, value in data.items()]}
    if isinstance(data, np.ndarray):
        kept = base64.b64encode(np.ascontiguousarray(data).tobytes()).decode("ascii")
        return {"array": kept, "kind": data.dtype.str, "shape": list(data.shape)}
    if type(data) is date:
        return {"date": data.isoformat()}
    if _classes().get(type(data).__name__) is type(data):
        held = {each.name: _plain(getattr(data, each.name)) for each in fields(data)}  # type: ignore[arg-type]
        return {"made_of": held, "class": type(data).__name__}
    raise TypeError(f"{type(data).__name__} is not passed on")


def _made(data: Any) -> Any:
    if not isinstance(data, dict):
        return data
    if "made_of" in data:
        return _classes()[data["class"]](**{name: _made(value) for name, value in data["made_of"].items()})
    if "array" in data:
        flat = np.frombuffer(base64.b64decode(data["array"]), dtype=np.dtype(data["kind"]))
        return flat.reshape(data["shape"]).copy()
    if "pairs" in data:
        return {_made(key): _made(value) for key, value in data["pairs"]}
    if "date" in data:
        return date.fromisoformat(data["date"])
    if "list" in data:
        return [_made(each) for each in data["list"]]
    return tuple(_made(each) for each in data["tuple"])
