"""The trade tables under `reference/`: each row with its source and with what that source is worth.

`status` is one of `STATUSES`. Only `published` and `computed` rows are facts; the others are stated
ranges that a firm may replace, and no page or test presents them as more than that.
"""

from __future__ import annotations

import csv
from pathlib import Path
from types import MappingProxyType

REFERENCE_DIR = Path(__file__).parents[1] / "reference"

STATUSES = ("published", "computed", "from memory", "common practice, no source", "assumption")

REFERENCES = MappingProxyType(
    {
        "tube_bores": "Bore of tube by material and outside diameter [mm]",
        "emitter_contents": "Water in an emitter by kind and height [L per metre of length]",
        "typical_emitters": "Height and length of an emitter when the log gives none [mm]",
        "volume_rules": "What stands in for pipes, heat source or the whole system when they are not logged",
        "oxide_data": "Densities [kg/m3] and molar masses [g/mol] of debris and metals",
        "label_dose": "Cleaner and inhibitor [L per 100 L of system]",
    }
)
"""Name of each reference table and what it holds."""


def reference_path(name: str) -> Path:
    """The CSV file of one reference table; KeyError names the valid ones."""
    if name not in REFERENCES:
        raise KeyError(f"no reference table {name!r}; there are {', '.join(REFERENCES)}")
    return REFERENCE_DIR / f"{name}.csv"


def reference_rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one reference table as text by column, in the order of the file.

    >>> reference_rows("label_dose")[0]["dose_l_per_100_l"]
    '1'
    """
    with reference_path(name).open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))
