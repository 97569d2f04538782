"""What requests would take, before anything is explained: distributions, chance of a second day, prices.

The quote, what-if and the value of a water sample all work out the same things for different rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.quote.base.callback_cost import CallbackCost, counted
from models.quote.base.quote_result import TARGETS, Price, Target, Volume
from models.quote.base.targets import SPECS, LocationScaleModel, Placement, TargetModel
from models.quote.estimator.rules import emitters_of, typical_rule
from models.quote.model.doses import dose
from models.quote.model.plan_risk import PlannedFilters, costs_of
from models.quote.model.quote_model import QuoteModel
from models.quote.pricing.price import Work, day_length, prices
from models.quote.pricing.scenarios import volume_ranks, volumes_at
from models.survey_features import POSITION, Frame, as_numbers, job_keys
from pipeline.contract.firm import Firm

Floats = NDArray[np.float64]

_CHUNK = 250
_TYPICAL_L_PER_EMITTER = 10.0
"""Water per emitter with its pipe, upper end of the usual 7–10 L (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Where a placer has put the rows `x`: asked again for those very rows, it need not go through its trees."""

    placer: LocationScaleModel
    x: Floats
    placement: Placement

    def place(self, x: Floats) -> Placement:
        """Centre and scale of each row."""
        return self.placement if x is self.x else self.placer.place(x)


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """How a target is forecast for the rows `x`: by its model, plus minutes that no record holds (set-up)."""

    model: TargetModel
    x: Floats
    extra: float = 0.0

    @property
    def unplaced(self) -> TargetModel:
        """The model as it was fitted."""
        placer = self.model.placer
        return replace(self.model, placer=placer.placer) if isinstance(placer, Placed) else self.model

    def quantiles(self, levels: Floats) -> Floats:
        """Quantiles (n, k) of the rows at the levels (k,)."""
        return self.model.quantiles(self.x, levels) + self.extra


@dataclass(frozen=True, slots=True, eq=False)
class Worked:
    """What n requests would take: each target's source, chance of a second day (n,), a price each."""

    sources: Mapping[Target, Source]
    second_day: Floats
    prices: list[Price]


@dataclass(frozen=True, slots=True, eq=False)
class Extras:
    """What is paid for besides the work, a row a request (n,): a filter is there, a visit ahead to dose.

    `filter_declined`: none is there, and none is to be fitted.
    """

    filter_there: NDArray[np.bool_]
    predosed: NDArray[np.bool_]
    filter_declined: NDArray[np.bool_]


def asked_extras(x: Floats) -> Extras:
    """As asked: a filter where none is there, a visit ahead where the chemical is to work for a day or more."""
    there = x[:, POSITION["filter_at_survey"]] == 1
    return Extras(there, x[:, POSITION["predose_days"]] >= 1, np.zeros(len(x), dtype=bool))


def work_out(model: QuoteModel, x: Floats, sizes: list[Volume], firm: Firm, extras: Extras | None = None) -> Worked:
    """Work out the feature rows x (n, p), with the system volume of each; `extras`: None as asked."""
    sources = _sources(model, x, firm)
    site = sources["site_minutes"]
    second = model.second_day.chance(site.model, x, extra=site.extra, firm_day_minutes=firm.day_minutes)
    return Worked(sources, second, _prices(model, sources, x, sizes, second, firm, extras or asked_extras(x)))


def volumes_of(features: Frame, volumes: Frame, x: Floats, firm: Firm) -> list[Volume]:
    """System volume and doses of each request; without one a typical system's, and its method says so.

    ValueError where `volumes` holds a job twice.
    """
    litres, methods = _joined(features, volumes)
    typical = emitters_of(x)[:, None] * _TYPICAL_L_PER_EMITTER * np.array([[0.6, 1.0, 1.4]])
    known = np.asarray(np.isfinite(litres).all(axis=1))
    litres = np.where(known[:, None], litres, typical)
    per_100, pack = (firm.cleaner_dose_l_per_100_l, firm.inhibitor_dose_l_per_100_l), firm.chemical_pack_l
    return [
        Volume(
            low_l=low,
            mid_l=mid,
            high_l=high,
            method=method if is_known else "typical_system",
            cleaner_dose_l=mid * per_100[0] / 100,
            inhibitor_dose_l=mid * per_100[1] / 100,
            cleaner=dose(per_100[0], (low, mid, high), pack),
            inhibitor=dose(per_100[1], (low, mid, high), pack, label_is="least"),
        )
        for (low, mid, high), method, is_known in zip(litres.tolist(), methods, known, strict=True)
    ]


def _joined(features: Frame, volumes: Frame) -> tuple[Floats, list[str]]:
    """Litres (n, 3) and method of the volume of each request, by firm and job; NaN where it has none."""
    row_of = {key: row for row, key in enumerate(job_keys(volumes))}
    if len(row_of) != len(volumes):
        raise ValueError("a job has more than one volume")
    at = [row_of.get(key, -1) for key in job_keys(features)]  # -1: the row of nobody, put last
    columns = ("system_volume_low_l", "system_volume_l", "system_volume_high_l")
    litres = np.vstack([np.stack([as_numbers(volumes[name]) for name in columns], axis=1), np.full((1, 3), np.nan)])
    methods = [*volumes["system_volume_method"].to_list(), None]
    return litres[at], [str(methods[row]) for row in at]


def _sources(model: QuoteModel, x: Floats, firm: Firm) -> dict[Target, Source]:
    """Each target's model for the rows x; site time that no job has logged is the flush plus the firm's set-up.

    With no flush on record either, the typical times are added before they are spread: that of a whole job on site is
    known within closer limits than that of its flush.
    """
    sources = {target: Source(_placed(model.targets[target], x), x) for target in TARGETS}
    if model.targets["site_minutes"].method == "typical_rule":
        flush = sources["flush_minutes"].model
        sources["site_minutes"] = Source(flush, x, firm.setup_minutes)
        if flush.method == "typical_rule":
            fixed = SPECS["flush_minutes"].typical_fixed + firm.setup_minutes
            sources["site_minutes"] = Source(_placed(typical_rule(SPECS["site_minutes"], fixed=fixed), x), x)
    return sources


def _placed(model: TargetModel, x: Floats) -> TargetModel:
    return replace(model, placer=Placed(model.placer, x, model.placer.place(x)))


def _prices(
    model: QuoteModel,
    sources: Mapping[Target, Source],
    x: Floats,
    sizes: list[Volume],
    second: Floats,
    firm: Firm,
    extras: Extras,
) -> list[Price]:
    """Prices in chunks of requests: each chunk holds requests × scenarios × parts of the cost."""
    volume = volumes_at(
        volume_ranks(model.ranks[:, TARGETS.index("magnetite_kg")]),
        np.array([(size.low_l, size.mid_l, size.high_l) for size in sizes]).reshape(-1, 3),
    )
    crew = x[:, POSITION["crew_size"]]
    crew = np.where(np.isfinite(crew), crew, float(firm.crew_size))
    found: list[Price] = []
    returns = _returns(model, sources["magnetite_kg"], x, firm, extras)
    for start in range(0, len(x), _CHUNK):
        rows = slice(start, start + _CHUNK)
        drawn = _scenarios(model, sources, rows)
        work = Work(
            site_minutes=drawn["site_minutes"],
            magnetite_kg=drawn["magnetite_kg"],
            non_magnetic_kg=drawn["non_magnetic_kg"],
            volume_l=volume[rows],
            crew=crew[rows],
            filter_there=(extras.filter_there | extras.filter_declined)[rows],
            predosed=extras.predosed[rows],
            day_minutes=day_length(drawn["site_minutes"], second[rows]),
            callback_chance=np.array([each.chance for each in returns[rows]]),
        )
        found += [replace(price, callbacks=each) for price, each in zip(prices(work, firm), returns[rows], strict=True)]
    return found


def _returns(model: QuoteModel, magnetite: Source, x: Floats, firm: Firm, extras: Extras) -> list[CallbackCost]:
    """What each request counts for return visits, its way of flushing allowed for."""
    told = model.returns
    base = counted(told.usual.rate if told else None, firm)
    fitted = ~(extras.filter_there | extras.filter_declined)
    scores = magnetite.model.ladder.quantiles(model.ranks[:, TARGETS.index("magnetite_kg")])
    return costs_of(
        base,
        told,
        magnetite.unplaced,
        magnetite.model.placer.place(x),
        scores,
        x,
        PlannedFilters(fitted, extras.filter_declined),
    )


def _scenarios(model: QuoteModel, sources: Mapping[Target, Source], rows: slice) -> dict[Target, Floats]:
    """Values (n, s) of each target in every joint scenario, for some of the rows."""
    found: dict[Target, Floats] = {}
    for target in TARGETS:
        source = sources[target]
        # site time made of flush time follows the flush's own rank
        ranked = TARGETS.index("flush_minutes" if source.extra else target)
        scores = source.model.ladder.quantiles(model.ranks[:, ranked])[None, :]
        whole = source.model.placer.place(source.x)
        part = Placement(whole.centre[rows], whole.scale[rows])
        found[target] = source.model.at(part, scores) + source.extra
    return found
