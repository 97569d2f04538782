"""Answer requests: forecasts, reasons, similar jobs, price and findings, for one survey or ten thousand.

Every step runs over all requests at once; only the frozen results are made one by one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.quantiles import LEVELS, Quantiles
from models.quote.base.conformal import PERCENTS
from models.quote.base.quote_result import TARGETS, Basis, Forecast, Quote, Reason, Target, Volume, Why
from models.quote.base.targets import SPECS
from models.quote.estimator.leaves import GROUP_NAMES
from models.quote.explain import remarks
from models.quote.explain.shapley import Amounts, explain
from models.quote.model.predict import Source, volumes_of, work_out
from models.quote.model.quote_model import QuoteModel
from models.survey_features import POSITION, Frame, encode, job_keys
from models.threads import threads_for
from pipeline.contract.firm import Firm

Floats = NDArray[np.float64]

EXPLAINED: tuple[Target, ...] = ("magnetite_kg", "site_minutes")


def answer(model: QuoteModel, features: Frame, volumes: Frame, firm: Firm) -> list[Quote]:
    """One quote for each row of `features` (as `ftr_quote`); `volumes` as `ftr_volume`, joined by job.

    Survey answers may be missing. Money is in the firm's currency before tax. In a book of several firms each row is
    answered for its own (`firm_id`).
    """
    x, keys = encode(features), job_keys(features)
    sizes = volumes_of(features, volumes, x, firm)
    with threads_for(len(x)):
        if not model.own:
            return _answers(model, keys, sizes, x, firm)
        found: dict[int, Quote] = {}
        for firm_id in sorted({firm_id for firm_id, _ in keys}):
            rows = [row for row, key in enumerate(keys) if key[0] == firm_id]
            own_keys, own_sizes = [keys[row] for row in rows], [sizes[row] for row in rows]
            quotes = _answers(model.of_firm(firm_id), own_keys, own_sizes, x[rows], firm)
            found.update(zip(rows, quotes, strict=True))
    return [found[i] for i in range(len(x))]


def _answers(model: QuoteModel, keys: list[tuple[str, str]], sizes: list[Volume], x: Floats, firm: Firm) -> list[Quote]:
    worked = work_out(model, x, sizes, firm)
    forecasts = {target: _forecasts(target, worked.sources[target]) for target in TARGETS}
    whys = _whys(model, worked.sources, x, forecasts)
    similar = model.neighbours.nearest(x)
    outside = model.ranges.outside(x) if model.records.jobs else [() for _ in x]
    shared, basis = remarks.of_the_records(model, firm), _basis(model)
    predose = np.nan_to_num(x[:, POSITION["predose_days"]])
    ratio = np.nan_to_num(x[:, POSITION["predose_label_ratio"]])
    return [
        Quote(
            firm_id=keys[i][0],
            job_id=keys[i][1],
            forecasts={target: forecasts[target][i] for target in TARGETS},
            second_day=float(worked.second_day[i]),
            price=worked.prices[i],
            volume=sizes[i],
            why=whys[i],
            similar_jobs=similar[i],
            basis=replace(basis, outside=outside[i]),
            findings=shared + remarks.of_the_request(outside[i], float(predose[i]), float(ratio[i]), firm),
        )
        for i in range(len(x))
    ]


def as_json(quote: Quote) -> dict[str, Any]:
    """The quote as plain data in the documented shape of the `quote` command."""
    forecasts: dict[str, Any] = {t: dict(quote.forecasts[t].quantiles.as_dict()) for t in TARGETS}
    basis = _plain(quote.basis)
    for name in ("window_from", "window_to"):
        basis[name] = basis[name] and basis[name].isoformat()
    price, counted = _plain(quote.price), quote.price.callbacks
    price["cost"] = dict(quote.price.cost.as_dict())
    price["parts"] = [_plain(part) for part in quote.price.parts]
    price["curve"] = [_plain(point) for point in quote.price.curve]
    price["callbacks"] = counted and {**asdict(counted), "chance": counted.chance}
    return {
        "firm_id": quote.firm_id,
        "job_id": quote.job_id,
        **forecasts,
        "second_day": quote.second_day,
        "price": price,
        "volume": _volume(quote.volume),
        "why": [{**_plain(why), "reasons": [_plain(r) for r in why.reasons]} for why in quote.why],
        "similar_jobs": [_plain(job) for job in quote.similar_jobs],
        "basis": {**basis, "outside": list(quote.basis.outside)},
        "findings": [finding.as_dict() for finding in quote.findings],
    }


def _volume(volume: Volume) -> dict[str, Any]:
    plain = _plain(volume)
    for name in ("cleaner", "inhibitor"):
        plain[name] = plain[name] and _plain(plain[name])
    return plain


def _plain(result: Any) -> dict[str, Any]:
    """The fields of a frozen result, not copied in depth as `asdict` does (ten times slower)."""
    return {name: getattr(result, name) for name in result.__slots__}


def _forecasts(target: Target, source: Source) -> list[Forecast]:
    seven = source.quantiles(np.array(list(LEVELS.values())))
    drawn = source.quantiles(PERCENTS)
    unit = SPECS[target].unit
    return [
        Forecast(target, unit, Quantiles.from_values(q), tuple(p)) for q, p in zip(seven, drawn.tolist(), strict=True)
    ]


def _whys(
    model: QuoteModel, sources: Mapping[Target, Source], x: Floats, forecasts: Mapping[Target, list[Forecast]]
) -> list[tuple[Why, ...]]:
    found = {t: explain(sources[t].unplaced, x, model.background) for t in EXPLAINED}
    return [
        tuple(_why(t, found[t], i, sources[t].extra, forecasts[t][i].quantiles.p50) for t in EXPLAINED)
        for i in range(len(x))
    ]


def _why(target: Target, found: Amounts, row: int, extra: float, median: float) -> Why:
    unit = SPECS[target].unit
    amounts = found.amounts[row].tolist()
    reasons = tuple(Reason(target, g, a, unit) for g, a in zip(GROUP_NAMES, amounts, strict=True))
    return Why(target, unit, found.usual + extra, median, reasons)


def _basis(model: QuoteModel) -> Basis:
    records, magnetite = model.records, model.targets["magnetite_kg"]
    return Basis(
        method=magnetite.method,
        finished_jobs=records.jobs,
        calibration_jobs=magnetite.calibration_jobs,
        window_from=records.window_from,
        window_to=records.window_to,
        simulated_share=records.simulated_share,
        borrowed=remarks.borrowed(model),
    )
