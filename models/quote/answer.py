"""Answer requests: forecasts, reasons, similar jobs, price and findings, for one survey or ten thousand.

Every step runs over all requests at once; only the frozen results are made one by one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.quantiles import LEVELS, Quantiles
from models.quote import remarks
from models.quote.conformal import PERCENTS
from models.quote.features import POSITION, encode
from models.quote.leaves import GROUP_NAMES
from models.quote.model import QuoteModel
from models.quote.price import Work, day_length, prices
from models.quote.result import TARGETS, Basis, Forecast, Price, Quote, Reason, Target, Volume, Why
from models.quote.rules import emitters_of
from models.quote.targets import SPECS, Placement, Placer, TargetModel
from models.quote.why import Amounts, explain
from models.threads import threads_for
from pipeline.firm import Firm

Floats = NDArray[np.float64]

EXPLAINED: tuple[Target, ...] = ("magnetite_kg", "site_minutes")

_CHUNK = 250
_TYPICAL_L_PER_EMITTER = 10.0
"""Water per emitter with its pipe, upper end of the usual 7–10 L (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """Where a placer has put the rows `x`: asked again for those very rows, it need not go through its trees."""

    placer: Placer
    x: Floats
    placement: Placement

    def place(self, x: Floats) -> Placement:
        return self.placement if x is self.x else self.placer.place(x)


@dataclass(frozen=True, slots=True, eq=False)
class _Source:
    """How a target is forecast for the rows `x`: by its model, plus minutes that no record holds (set-up)."""

    model: TargetModel
    x: Floats
    extra: float = 0.0

    def quantiles(self, levels: Floats) -> Floats:
        return self.model.quantiles(self.x, levels) + self.extra


def answer(model: QuoteModel, features: pd.DataFrame, volumes: pd.DataFrame, firm: Firm) -> list[Quote]:
    """One quote for each row of `features` (as `ftr_quote`); `volumes` as `ftr_volume`, joined by job.

    Survey answers may be missing. Money is in the firm's currency before tax.
    """
    x = encode(features)
    with threads_for(len(x)):
        return _answers(model, features, volumes, x, firm)


def _answers(
    model: QuoteModel, features: pd.DataFrame, volumes: pd.DataFrame, x: Floats, firm: Firm
) -> list[Quote]:
    sources = _sources(model, x, firm)
    forecasts = {target: _forecasts(target, sources[target]) for target in TARGETS}
    sizes = _volumes(features, volumes, x, firm)
    site = sources["site_minutes"]
    second = model.second_day.chance(site.model, x, extra=site.extra, firm_day_minutes=firm.day_minutes)
    money = _prices(model, sources, x, sizes, second, firm)
    whys = _whys(model, sources, x, forecasts)
    similar = model.neighbours.nearest(x)
    outside = model.ranges.outside(x) if model.records.jobs else [() for _ in x]
    shared, basis = remarks.of_the_records(model, firm), _basis(model)
    predose = np.nan_to_num(x[:, POSITION["predose_days"]])
    keys = features[["firm_id", "job_id"]].astype(str).to_numpy()
    return [
        Quote(
            firm_id=keys[i, 0],
            job_id=keys[i, 1],
            forecasts={target: forecasts[target][i] for target in TARGETS},
            second_day=float(second[i]),
            price=money[i],
            volume=sizes[i],
            why=whys[i],
            similar_jobs=similar[i],
            basis=replace(basis, outside=outside[i]),
            findings=shared + remarks.of_the_request(outside[i], float(predose[i]), firm),
        )
        for i in range(len(x))
    ]


def as_json(quote: Quote) -> dict[str, Any]:
    """The quote as plain data in the documented shape of the `quote` command."""
    forecasts: dict[str, Any] = {t: dict(quote.forecasts[t].quantiles.as_dict()) for t in TARGETS}
    basis = _plain(quote.basis)
    for name in ("window_from", "window_to"):
        basis[name] = basis[name] and basis[name].isoformat()
    price = _plain(quote.price)
    price["cost"] = dict(quote.price.cost.as_dict())
    price["parts"] = [_plain(part) for part in quote.price.parts]
    price["curve"] = [_plain(point) for point in quote.price.curve]
    return {
        "firm_id": quote.firm_id,
        "job_id": quote.job_id,
        **forecasts,
        "second_day": quote.second_day,
        "price": price,
        "volume": _plain(quote.volume),
        "why": [{**_plain(why), "reasons": [_plain(r) for r in why.reasons]} for why in quote.why],
        "similar_jobs": [_plain(job) for job in quote.similar_jobs],
        "basis": {**basis, "outside": list(quote.basis.outside)},
        "findings": [finding.as_dict() for finding in quote.findings],
    }


def _plain(result: Any) -> dict[str, Any]:
    """The fields of a frozen result, not copied in depth as `asdict` does (ten times slower)."""
    return {name: getattr(result, name) for name in result.__slots__}


def _sources(model: QuoteModel, x: Floats, firm: Firm) -> dict[Target, _Source]:
    """Each target's model for the rows x; site time no job has logged is the flush plus the firm's set-up."""
    sources = {target: _Source(_placed(model.targets[target], x), x) for target in TARGETS}
    if model.targets["site_minutes"].method == "typical_rule":
        sources["site_minutes"] = _Source(sources["flush_minutes"].model, x, firm.setup_minutes)
    return sources


def _placed(model: TargetModel, x: Floats) -> TargetModel:
    return replace(model, placer=_Placed(model.placer, x, model.placer.place(x)))


def _forecasts(target: Target, source: _Source) -> list[Forecast]:
    seven = source.quantiles(np.array(list(LEVELS.values())))
    drawn = source.quantiles(PERCENTS)
    unit = SPECS[target].unit
    return [
        Forecast(target, unit, Quantiles.from_values(q), tuple(p))
        for q, p in zip(seven, drawn.tolist(), strict=True)
    ]


def _whys(
    model: QuoteModel, sources: Mapping[Target, _Source], x: Floats, forecasts: Mapping[Target, list[Forecast]]
) -> list[tuple[Why, ...]]:
    found = {t: explain(_unplaced(sources[t].model), x, model.background) for t in EXPLAINED}
    return [
        tuple(_why(t, found[t], i, sources[t].extra, forecasts[t][i].quantiles.p50) for t in EXPLAINED)
        for i in range(len(x))
    ]


def _unplaced(model: TargetModel) -> TargetModel:
    return replace(model, placer=model.placer.placer) if isinstance(model.placer, _Placed) else model


def _why(target: Target, found: Amounts, row: int, extra: float, median: float) -> Why:
    unit = SPECS[target].unit
    amounts = found.amounts[row].tolist()
    reasons = tuple(Reason(target, g, a, unit) for g, a in zip(GROUP_NAMES, amounts, strict=True))
    return Why(target, unit, found.usual + extra, median, reasons)


def _prices(
    model: QuoteModel,
    sources: Mapping[Target, _Source],
    x: Floats,
    sizes: list[Volume],
    second: Floats,
    firm: Firm,
) -> list[Price]:
    """Prices in chunks of requests: each chunk holds requests × scenarios × parts of the cost."""
    volume = np.array([size.mid_l for size in sizes])
    crew = x[:, POSITION["crew_size"]]
    crew = np.where(np.isfinite(crew), crew, float(firm.crew_size))
    filter_there = x[:, POSITION["filter_at_survey"]] == 1
    found: list[Price] = []
    for start in range(0, len(x), _CHUNK):
        rows = slice(start, start + _CHUNK)
        drawn = _scenarios(model, sources, rows)
        work = Work(
            site_minutes=drawn["site_minutes"],
            magnetite_kg=drawn["magnetite_kg"],
            non_magnetic_kg=drawn["non_magnetic_kg"],
            volume_l=volume[rows],
            crew=crew[rows],
            filter_there=filter_there[rows],
            day_minutes=day_length(drawn["site_minutes"], second[rows]),
        )
        found += prices(work, firm)
    return found


def _scenarios(model: QuoteModel, sources: Mapping[Target, _Source], rows: slice) -> dict[Target, Floats]:
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


def _basis(model: QuoteModel) -> Basis:
    records, magnetite = model.records, model.targets["magnetite_kg"]
    return Basis(
        method=magnetite.method,
        finished_jobs=records.jobs,
        calibration_jobs=magnetite.calibration_jobs,
        window_from=records.window_from,
        window_to=records.window_to,
        simulated_share=records.simulated_share,
    )


def _volumes(features: pd.DataFrame, volumes: pd.DataFrame, x: Floats, firm: Firm) -> list[Volume]:
    """System volume and doses of each request; without one a typical system's, and its method says so."""
    keys = ["firm_id", "job_id"]
    columns = ["system_volume_low_l", "system_volume_l", "system_volume_high_l", "system_volume_method"]
    joined = features[keys].merge(volumes[[*keys, *columns]], on=keys, how="left", validate="many_to_one")
    litres = joined[columns[:3]].to_numpy(dtype=float, na_value=np.nan)
    methods = joined["system_volume_method"].fillna("typical_system").astype(str).tolist()
    typical = emitters_of(x)[:, None] * _TYPICAL_L_PER_EMITTER * np.array([[0.6, 1.0, 1.4]])
    known = np.isfinite(litres).all(axis=1)
    litres = np.where(known[:, None], litres, typical)
    return [
        Volume(
            low_l=low,
            mid_l=mid,
            high_l=high,
            method=method if is_known else "typical_system",
            cleaner_dose_l=mid * firm.cleaner_dose_l_per_100_l / 100,
            inhibitor_dose_l=mid * firm.inhibitor_dose_l_per_100_l / 100,
        )
        for (low, mid, high), method, is_known in zip(litres.tolist(), methods, known, strict=True)
    ]
