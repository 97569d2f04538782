"""What an owner acts on, told of later jobs and held against what came: second days, cost, loss, return visits.

Every job counts as asked: a filter where none was there, a visit ahead where the chemical was to work for days. What it
cost is worked out as its quote was, from the minutes, days and kilograms that came; the volume at its middle, as no
fill is metered. Return visits stand by themselves and are left out of cost and loss, on both sides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.quote.base.callback_cost import CallbackRate, callback_rate
from models.quote.base.past_jobs import History
from models.quote.base.quote_result import Price, Volume
from models.quote.model.firm_calibration import firms_of
from models.quote.model.predict import asked_extras, volumes_of, work_out
from models.quote.model.quote_model import QuoteModel
from models.quote.pricing.price import Work, cost_parts
from models.quote.pricing.track_record import day_minutes_done
from models.scores import exact_limits
from models.survey_features import POSITION
from pipeline.contract.firm import Firm

Floats = NDArray[np.float64]
Index = NDArray[np.intp]

LEAST_TESTED = 20
"""Tested jobs from which a share is told."""

NAMES: Mapping[str, str] = MappingProxyType(
    {
        "second_day": "A second day",
        "second_day_likeliest": "A second day, the fifth where it is likeliest",
        "cost_80": "Cost within its 8-in-10 range",
        "cost_above": "Cost above its middle",
        "cost_above_dearest": "Cost above its middle, the dearest fifth",
        "loss": "A loss at the advised price",
        "callback": "A debris callback within a year",
    }
)


@dataclass(frozen=True, slots=True)
class PriceInputs:
    """What prices are made of besides past jobs: `ftr_volume`, the firm's settings, `ftr_callback` (None: not told)."""

    volumes: pd.DataFrame
    firm: Firm
    callback: pd.DataFrame | None = None


@dataclass(frozen=True, slots=True)
class Outturn:
    """One figure told of `jobs` later jobs: mean share told, share that came, its 95 % limits."""

    name: str
    jobs: int
    told: float
    came: float
    low: float
    high: float

    @property
    def is_as_told(self) -> bool:
        """Whether chance alone could make the difference."""
        return self.low <= self.told <= self.high

    def as_json(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        return asdict(self)


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """One step's tested jobs (m,): chance of a second day told, second days that came, cost told (m, 3) as p10, p50 and
    p90, what they cost, price, chance of loss told; NaN where not known. Rate of return visits told, with its rows."""

    rows: Index
    second_day: Floats
    second_came: Floats
    cost: Floats
    cost_came: Floats
    price: Floats
    loss: Floats
    callback: CallbackRate | None


def tried(model: QuoteModel, past: History, before: Index, test: Index, inputs: PriceInputs) -> Tried:
    """What the model of the jobs `before` tells of the jobs `test`, and what came of them."""
    firms, x = firms_of(past)[test], past.x[test]
    sizes = volumes_of(past.frame.iloc[test], inputs.volumes, x, inputs.firm)
    second, found = np.empty(len(test)), np.empty((len(test), 5))
    for firm in np.unique(firms):
        mine = np.flatnonzero(firms == firm)
        worked = work_out(model.of_firm(str(firm)), x[mine], [sizes[i] for i in mine], inputs.firm)
        second[mine] = worked.second_day
        found[mine] = [_figures(price) for price in worked.prices]
    known_until = past.days[test].min()
    return Tried(
        rows=test,
        second_day=second,
        second_came=past.second_day[test],
        cost=found[:, :3],
        cost_came=_costs(past, test, sizes, found[:, 1], inputs.firm),
        price=found[:, 3],
        loss=found[:, 4],
        callback=None
        if inputs.callback is None
        else callback_rate(_as_known(inputs.callback, past, before, known_until)),
    )


def outturns(past: History, steps: Sequence[Tried], inputs: PriceInputs) -> tuple[Outturn, ...]:
    """The figures over all steps; those with fewer than `LEAST_TESTED` known jobs are left out."""

    def joined(name: str) -> Floats:
        return np.concatenate([getattr(step, name) for step in steps])

    second, cost, came = joined("second_day"), joined("cost"), joined("cost_came")
    known = np.isfinite(came)
    inside = np.where(known, (came >= cost[:, 0]) & (came <= cost[:, 2]), np.nan)
    above = np.where(known, came > cost[:, 1], np.nan)
    half = np.full(len(came), 0.5)
    told = [
        _share("second_day", second, joined("second_came")),
        _share("second_day_likeliest", second, joined("second_came"), _top_fifth(second)),
        _share("cost_80", np.full(len(came), 0.8), inside),
        _share("cost_above", half, above),
        _share("cost_above_dearest", half, above, _top_fifth(cost[:, 1])),
        _share("loss", joined("loss"), np.where(known, came > joined("price"), np.nan)),
        _callbacks(past, steps, inputs),
    ]
    return tuple(each for each in told if each is not None)


def _figures(price: Price) -> tuple[float, ...]:
    cost = price.cost
    return cost.p10, cost.p50, cost.p90, price.price, float(price.chance_of_loss or 0.0)


def _top_fifth(values: Floats) -> NDArray[np.bool_]:
    return values >= np.quantile(values, 0.8)


def _share(name: str, told: Floats, came: Floats, of: NDArray[np.bool_] | None = None) -> Outturn | None:
    used = np.isfinite(came) if of is None else np.isfinite(came) & of
    jobs = int(used.sum())
    if jobs < LEAST_TESTED:
        return None
    share = float(came[used].mean())
    return Outturn(name, jobs, float(told[used].mean()), share, *exact_limits(round(share * jobs), jobs))


def _costs(past: History, rows: Index, sizes: list[Volume], middle: Floats, firm: Firm) -> Floats:
    """What the jobs cost (m,), NaN where minutes, days or magnetite are not known;
    other debris not known counts none."""
    x, site = past.x[rows], past.targets["site_minutes"][rows]
    kilograms, second = past.targets["magnetite_kg"][rows], past.second_day[rows]
    known = np.isfinite(site) & np.isfinite(kilograms) & np.isfinite(second) & np.isfinite(middle)
    extras, crew = asked_extras(x), x[:, POSITION["crew_size"]]
    minutes = np.where(known, site, 1.0)
    work = Work(
        site_minutes=minutes[:, None],
        magnetite_kg=np.where(known, kilograms, 0.0)[:, None],
        non_magnetic_kg=np.nan_to_num(past.targets["non_magnetic_kg"][rows])[:, None],
        volume_l=np.array([[size.mid_l] for size in sizes]),
        crew=np.where(np.isfinite(crew), crew, float(firm.crew_size)),
        filter_there=extras.filter_there,
        predosed=extras.predosed,
        day_minutes=day_minutes_done(second, minutes, firm),
    )
    return np.where(known, cost_parts(work, firm).sum(axis=2)[:, 0], np.nan)


def _as_known(callback: pd.DataFrame, past: History, rows: Index, until: np.datetime64) -> pd.DataFrame:
    """The callbacks of those jobs as they were known on a day: follow-up ends with it."""
    visits = past.frame.iloc[rows][["firm_id", "job_id", "visit_date"]]
    known = callback.merge(visits, on=["firm_id", "job_id"], how="inner")
    days = (pd.Timestamp(until) - pd.to_datetime(known["visit_date"])).dt.days
    known["followed_days"] = np.minimum(known["followed_days"].astype(float), days)
    for name in ("first_debris_day", "first_other_day"):
        if name in known:
            known[name] = known[name].astype(float).where(known[name].astype(float) <= known["followed_days"])
    return known.drop(columns="visit_date")


def _callbacks(past: History, steps: Sequence[Tried], inputs: PriceInputs) -> Outturn | None:
    """The rates told, by jobs, beside the rate of the tested jobs; None where either is refused."""
    used = [step for step in steps if step.callback is not None and step.callback.risk is not None]
    if not used or inputs.callback is None:
        return None
    rows = np.concatenate([step.rows for step in used])
    came = callback_rate(_as_known(inputs.callback, past, rows, np.datetime64("9999-12-31", "D")))
    if came.risk is None or came.low is None or came.high is None:
        return None
    told = np.average(
        [float(step.callback.risk or 0.0) for step in used if step.callback], weights=[len(s.rows) for s in used]
    )
    return Outturn("callback", came.jobs, float(told), came.risk, came.low, came.high)
