"""A number of the simulated world: its value with unit, allowed range, meaning and source beside it.

`assumption` as a source means: chosen so that jobs look plausible to the trade; nothing was measured.
"""

from __future__ import annotations

from dataclasses import field, fields
from typing import Any

ASSUMPTION = "assumption"


def number(value: float, unit: str, low: float, high: float, meaning: str, source: str = ASSUMPTION) -> Any:
    """A field with its unit, allowed range, meaning and source beside it."""
    return field(default=value, metadata={"unit": unit, "low": low, "high": high, "meaning": meaning, "source": source})


class Checked:
    """Base of a parameter group: every field is held to its range when the group is made."""

    def __post_init__(self) -> None:
        faults = []
        for item in fields(self):  # type: ignore[arg-type]
            low, high = item.metadata["low"], item.metadata["high"]
            if not low <= getattr(self, item.name) <= high:
                faults.append(f"{item.name} = {getattr(self, item.name)} is outside {low:g}..{high:g}")
        if faults:
            raise ValueError(f"{type(self).__name__}: " + "; ".join(faults))
