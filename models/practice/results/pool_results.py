"""Several firms together: the effect of a practice in each, pooled over all. No firm is named to another."""

from __future__ import annotations

from dataclasses import dataclass

from models.practice.results.plain_data import plain


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


@dataclass(frozen=True, slots=True)
class AgainstOthers:
    """A practice in one firm and in the others of its pool, who stay unnamed; the others are pooled without it.

    `difference` and what follows are the others' mean, as in a `PooledEffect`; None, and no count, where `refused`.
    `apart` is the firm's own effect less theirs with its interval, which allows for what firms differ by anyway;
    `place`: like the others, does more here (the practice cuts more callbacks), does less here, not known.
    """

    contrast: str
    label: str
    own: FirmEffect
    other_firms: int | None = None
    other_jobs: int | None = None
    difference: float | None = None
    low: float | None = None
    high: float | None = None
    prediction_low: float | None = None
    prediction_high: float | None = None
    tau: float | None = None
    i_squared: float | None = None
    apart: float | None = None
    apart_low: float | None = None
    apart_high: float | None = None
    p_value: float | None = None
    q_value: float | None = None
    place: str = "not known"
    refused: str = ""


@dataclass(frozen=True, slots=True)
class OwnFirm:
    """One firm against the others: `jobs` of its own, `fewest_others` below which nothing of the others is shown."""

    firm_id: str
    jobs: int
    fewest_others: int
    practices: tuple[AgainstOthers, ...]

    def as_dict(self) -> dict[str, object]:
        """Plain data for JSON; names no firm but its own."""
        left = plain(self)
        assert isinstance(left, dict)
        return left
