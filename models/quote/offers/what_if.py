"""What if the job were flushed another way: how far kilograms, minutes and price move with one planned practice.

The request is worked out again with one plan answer changed and everything else as it is. That is what past
jobs with the other practice gave and took: an association, not an effect. Crews choose their method by the
house in front of them, so a practice of bad houses looks as if it brought the debris.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from models.quantiles import LEVELS
from models.quote.base.callback_cost import PlanChange
from models.quote.base.quote_result import Volume
from models.quote.model.plan_risk import between
from models.quote.model.predict import work_out
from models.quote.model.quote_model import QuoteModel
from models.survey_features import FEATURES, POSITION, POSITIONS
from models.threads import threads_for
from pipeline.contract.firm import Firm

Floats = NDArray[np.float64]
Practice = Literal["predose_days", "heat_source", "connection", "isolation", "agitation"]

LEAST_JOBS = 20
"""Past jobs with a practice from which a change to it is shown."""

CAUTION = (
    "This is what past jobs with that practice gave and took, an association: crews choose their method by the "
    "house, so it does not prove that the change would do it, and less time can mean debris left behind. The "
    "practice audit tells what is borne out."
)

_CHOICES: tuple[Practice, ...] = ("heat_source", "connection", "isolation", "agitation")
_PREDOSE_DAYS = (0, 3, 7, 14)
_NEEDS_HEATER = ("inline_heater", "both")
_MEDIAN = np.array([LEVELS["p50"]])
_TARGETS = MappingProxyType({"magnetite_kg": "kg", "flush_minutes": "min", "site_minutes": "min"})


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One change of plan: `practice` from `planned` (None: not said) to `instead`, which `jobs` past jobs had.

    The rest is how far the middle forecast, the chance of a second day, the price before tax and the chance of a
    callback move (None: nothing is known to move it).
    """

    practice: Practice
    planned: str | None
    instead: str
    jobs: int
    magnetite_kg: float
    flush_minutes: float
    site_minutes: float
    second_day: float
    price: float
    evidence: Literal["association"] = "association"
    callback_change: PlanChange | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Change:
    practice: Practice
    planned: str | None
    instead: str
    jobs: int
    row: Floats


def what_if(model: QuoteModel, row: Floats, size: Volume, firm: Firm) -> tuple[WhatIf, ...]:
    """Every change of plan that past jobs can speak of, for one request: its feature row (p,) and volume.

    Empty while the forecast is a rule that counts emitters only. Pre-dose stays within the label's days.
    """
    if model.targets["magnetite_kg"].method != "boosted":
        return ()
    changes = [*_predose(model, row, firm), *(c for practice in _CHOICES for c in _choices(model, row, practice))]
    changes = [change for change in changes if change.jobs >= LEAST_JOBS]
    x = np.stack([row, *(change.row for change in changes)])
    with threads_for(len(x)):
        worked = work_out(model, x, [size] * len(x), firm)
        medians = {t: worked.sources[t].quantiles(_MEDIAN)[:, 0] for t in _TARGETS}  # type: ignore[index]
    asked = np.array([price.price for price in worked.prices])
    moved = {name: values - values[0] for name, values in (*medians.items(), ("price", asked))}
    second = worked.second_day - worked.second_day[0]
    return tuple(
        WhatIf(
            practice=change.practice,
            planned=change.planned,
            instead=change.instead,
            jobs=change.jobs,
            magnetite_kg=float(moved["magnetite_kg"][i]),
            flush_minutes=float(moved["flush_minutes"][i]),
            site_minutes=float(moved["site_minutes"][i]),
            second_day=float(second[i]),
            price=float(moved["price"][i]),
            callback_change=between(model.returns, worked.prices[i].callbacks, worked.prices[0].callbacks),
        )
        for i, change in enumerate(changes, start=1)
    )


def _predose(model: QuoteModel, row: Floats, firm: Firm) -> Iterator[_Change]:
    days_at, ratio_at = POSITION["predose_days"], POSITION["predose_label_ratio"]
    planned = row[days_at]
    dosed = int(model.seen[days_at])
    for days in _PREDOSE_DAYS:
        if days == planned or days > firm.label_max_days:
            continue
        changed = row.copy()
        changed[days_at] = days
        if days == 0:
            changed[ratio_at] = np.nan
        elif not changed[ratio_at] > 0:
            changed[ratio_at] = 1.0  # the label's own dose
        said = f"{planned:g}" if np.isfinite(planned) else None
        yield _Change("predose_days", said, str(days), dosed if days else model.records.jobs - dosed, changed)


def _choices(model: QuoteModel, row: Floats, practice: Practice) -> Iterator[_Change]:
    at = np.array(POSITIONS[practice])
    words = [str(FEATURES[i].choice) for i in at]
    planned = next((word for i, word in zip(at, words, strict=True) if row[i] == 1), None)
    for i, word in zip(at, words, strict=True):
        if word == planned:
            continue
        changed = row.copy()
        changed[at] = 0.0
        changed[i] = 1.0
        if practice == "heat_source" and word not in _NEEDS_HEATER:
            changed[POSITION["heater_kw"]] = np.nan
        yield _Change(practice, planned, word, int(model.seen[i]), changed)
