"""One independent random stream for each process, so that a draw added in one place moves no other."""

from __future__ import annotations

import numpy as np

PROCESSES = (
    "diary",
    "engineers",
    "house",
    "system",
    "fouling",
    "survey",
    "plan",
    "flush",
    "readings",
    "aftercare",
    "gaps",
    "firms",
    "faults",
    "clocks",
    "scales",
    "slips",
    "propensity",
    "magnet_test",
    "valves",
    "beside",
    "stock",
    "mishaps",
    "early_leaks",
    "rooms",
    "counts",
    "totals",
    "surfaces",
    "called_about",
)
"""Processes in fixed order: new ones go to the end, else every world changes."""


def stream(seed: int, process: str, chunk: int = 0) -> np.random.Generator:
    """The generator of one process for one chunk of jobs; the same three values give the same draws.

    The spawn key is what `SeedSequence(seed).spawn(...)[process].spawn(...)[chunk]` would have.
    """
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(PROCESSES.index(process), chunk)))
