"""What a quote can tell on request, besides its fixed answer: offers, other plans, the worth of a water sample.

Each takes as long as some thirty quotes, so they are worked out for a few requests, not for ten thousand.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from models.quote.model.predict import volumes_of
from models.quote.model.quote_model import QuoteModel
from models.quote.offers.options import Option, options
from models.quote.offers.water_sample import WaterSample, water_sample
from models.quote.offers.what_if import WhatIf, what_if
from models.survey_features import Frame, encode, job_keys
from pipeline.contract.firm import Firm

A_FEW = 20
"""Requests in one call up to which this is worked out unasked."""


@dataclass(frozen=True, slots=True)
class Further:
    """Changes of plan, the worth of a water sample (None: known already, or too few past jobs have one), and the
    offers side by side."""

    what_if: tuple[WhatIf, ...] = ()
    water_sample: WaterSample | None = None
    options: tuple[Option, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """As plain data: `{"options": […], "what_if": […], "water_sample": {…} or None}`."""
        sample = self.water_sample
        return {
            "options": [_option(each) for each in self.options],
            "what_if": [_with_callbacks(change) for change in self.what_if],
            "water_sample": None if sample is None else {**_plain(sample), "narrower_share": sample.narrower_share},
        }


def further(model: QuoteModel, features: Frame, volumes: Frame, firm: Firm) -> list[Further]:
    """One for each row of `features` (as `ftr_quote`); `volumes` as `ftr_volume`, joined by job."""
    x = encode(features)
    sizes = volumes_of(features, volumes, x, firm)
    models = [model.of_firm(firm_id) for firm_id, _ in job_keys(features)]
    return [
        Further(what_if(one, row, size, firm), water_sample(one, row, size, firm), options(one, row, size, firm))
        for one, row, size in zip(models, x, sizes, strict=True)
    ]


def _option(option: Option) -> dict[str, Any]:
    quantiles = {name: dict(getattr(option, name).as_dict()) for name in ("magnetite_kg", "site_minutes")}
    return {**_with_callbacks(option), **quantiles}


def _with_callbacks(result: WhatIf | Option) -> dict[str, Any]:
    change = result.callback_change
    return {**_plain(result), "callback_change": change and asdict(change)}


def _plain(result: WhatIf | WaterSample | Option) -> dict[str, Any]:
    return {name: getattr(result, name) for name in result.__slots__}
