"""Offers side by side: with and without a magnetic filter, with and without a pre-dose, each with its price.

A filter moves the price alone: it is fitted after the flush. A pre-dose moves the price by a visit ahead, and
kilograms and minutes by what past jobs with one gave and took, an association (see `what_if`); with too few such jobs
they stay as they are and only the visit counts, and the option says so. Callbacks to expect move with either where the
practice audit has a verdict, and with the kilograms of a pre-dose where it is told what a kilogram does (`plan_risk`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.quantiles import LEVELS, Quantiles
from models.quote.base.callback_cost import PlanChange, chance_of
from models.quote.base.quote_result import Volume
from models.quote.model.plan_risk import between
from models.quote.model.predict import Extras, asked_extras, work_out
from models.quote.model.quote_model import QuoteModel
from models.quote.offers.what_if import LEAST_JOBS
from models.survey_features import POSITION
from models.threads import threads_for
from pipeline.contract.firm import Firm

Floats = NDArray[np.float64]

USUAL_PREDOSE_DAYS = 7
"""Days offered where none are asked for, if the label allows as many (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Option:
    """One offer, prices before tax unless named. `new_filter`: one is fitted; `predose_days` 0: none.

    `forecast_moves` is False where a pre-dose is priced but too few past jobs tell what it does to the work.
    `callback_chance` is counted in the price; `callback_change` is how far it lies from that of the offer asked for,
    None where nothing is known to move it.
    """

    new_filter: bool
    predose_days: int
    is_asked: bool
    forecast_moves: bool
    price: float
    price_with_tax: float
    chance_of_loss: float | None
    cost_p50: float
    magnetite_kg: Quantiles
    site_minutes: Quantiles
    second_day: float
    callback_chance: float = 0.0
    callback_change: PlanChange | None = None


def options(model: QuoteModel, row: Floats, size: Volume, firm: Firm) -> tuple[Option, ...]:
    """The offers for one request, its feature row (p,) and volume; as asked first.

    No filter is offered where one is there, no pre-dose where the label allows no day.
    """
    asked = _asked_days(row)
    plans = _plans(row, asked, firm)
    moves = _predose_is_estimated(model)
    x = np.stack([_with_days(row, days) if moves and days != asked else row for _, days in plans])
    there = bool(asked_extras(row[None, :]).filter_there[0])
    extras = Extras(
        filter_there=np.full(len(plans), there),
        predosed=np.array([days >= 1 for _, days in plans]),
        filter_declined=np.array([not (there or fitted) for fitted, _ in plans]),
    )
    with threads_for(len(x)):
        worked = work_out(model, x, [size] * len(x), firm, extras)
        levels = np.array(list(LEVELS.values()))
        counted = [price.callbacks for price in worked.prices]
        kilos, minutes = (worked.sources[name].quantiles(levels) for name in ("magnetite_kg", "site_minutes"))
    return tuple(
        Option(
            new_filter=fitted,
            predose_days=days,
            is_asked=i == 0,
            forecast_moves=moves or days == asked,
            price=worked.prices[i].price,
            price_with_tax=worked.prices[i].price_with_tax,
            chance_of_loss=worked.prices[i].chance_of_loss,
            cost_p50=worked.prices[i].cost.p50,
            magnetite_kg=Quantiles.from_values(kilos[i]),
            site_minutes=Quantiles.from_values(minutes[i]),
            second_day=float(worked.second_day[i]),
            callback_chance=chance_of(counted[i]),
            callback_change=between(model.returns, counted[i], counted[0]),
        )
        for i, (fitted, days) in enumerate(plans)
    )


def _plans(row: Floats, asked: int, firm: Firm) -> list[tuple[bool, int]]:
    """Filter to fit and days of pre-dose of each offer, the one asked for first."""
    there = bool(asked_extras(row[None, :]).filter_there[0])
    other = 0 if asked else min(USUAL_PREDOSE_DAYS, firm.label_max_days)
    days = [asked] if other == asked else [asked, other]
    fitted = [False] if there else [True, False]
    return [(new, each) for each in days for new in fitted]


def _asked_days(row: Floats) -> int:
    days = row[POSITION["predose_days"]]
    return int(days) if np.isfinite(days) else 0


def _predose_is_estimated(model: QuoteModel) -> bool:
    """Whether past jobs with and without a pre-dose are enough to say what it does to the work."""
    dosed = int(model.seen[POSITION["predose_days"]])
    is_boosted = model.targets["magnetite_kg"].method == "boosted"
    return is_boosted and min(dosed, model.records.jobs - dosed) >= LEAST_JOBS


def _with_days(row: Floats, days: int) -> Floats:
    changed = row.copy()
    changed[POSITION["predose_days"]] = days
    at = POSITION["predose_label_ratio"]
    if days == 0:
        changed[at] = np.nan
    elif not changed[at] > 0:
        changed[at] = 1.0  # the label's own dose
    return changed
