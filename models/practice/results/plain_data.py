"""A frozen result as plain data for JSON: nested results, arrays and tuples become dicts and lists."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from math import isfinite

import numpy as np

from pipeline.contract.findings import Finding


def plain(value: object, leave: tuple[str, ...] = ()) -> object:
    """`value` as dicts, lists, texts, numbers and None; what is not finite is None. Fields in `leave` are left out."""
    if isinstance(value, Finding):
        return value.as_dict()
    if is_dataclass(value) and not isinstance(value, type):
        names = [each.name for each in fields(value) if each.name not in leave]
        return {name: plain(getattr(value, name)) for name in names}
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, np.ndarray):
        return [plain(each) for each in value.tolist()]
    if isinstance(value, (tuple, list)):
        return [plain(each) for each in value]
    if isinstance(value, float | np.floating):
        return float(value) if isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    return value.isoformat() if isinstance(value, date) else value
