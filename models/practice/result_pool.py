"""Several firms together: the effect of a practice in each, pooled over all. No firm is named to another."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FirmEffect:
    """One firm's own adjusted difference; figures are None where `refused` says why."""

    firm_id: str
    jobs: int
    difference: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class PooledEffect:
    """A practice over several firms: random-effects mean, its interval, and where a further firm would lie.

    `tau` is the spread of true effects between firms, `i_squared` the share of the variation beyond chance, `q` and
    `q_p_value` Cochran's test. `firms_used` gave a figure of their own; `firms` is sorted by id and is for the one who
    holds the pool: another firm is shown its own row and the pooled figures only. Figures are None where `refused`.
    """

    contrast: str
    label: str
    firms: tuple[FirmEffect, ...]
    firms_used: int
    jobs: int
    difference: float | None
    low: float | None
    high: float | None
    prediction_low: float | None
    prediction_high: float | None
    tau: float | None
    i_squared: float | None
    q: float | None
    q_p_value: float | None
    refused: str = ""
