"""What a water sample taken at survey would be worth: how much narrower the forecast, how much closer the price.

Nobody knows what the sample would show. So the request is worked out once with each of the samples that the
most similar past jobs showed, as if it were its own, and the widths are averaged: the expected value of sample
information of decision analysis (Raiffa and Schlaifer 1961, from memory), with past jobs for its distribution.

What a sample will show cannot be expected to move the middle of a forecast. Where past samples do so on average, they
tell at which houses one was taken and not what it showed; widths are freed of that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.quantiles import LEVELS
from models.quote.base.quote_result import Target, Volume
from models.quote.base.targets import SPECS
from models.quote.model.predict import Worked, work_out
from models.quote.model.quote_model import QuoteModel
from models.quote.model.similar_jobs import survey_distance
from models.survey_features import FEATURES, POSITION
from models.threads import threads_for
from pipeline.contract.firm import Firm

Floats = NDArray[np.float64]

SAMPLES = 40
"""Most similar past jobs whose samples are tried."""
LEAST_SAMPLES = 20
MOST_SAMPLED = 500
"""Newest past jobs with a sample that a model keeps."""

WATER: NDArray[np.intp] = np.array(
    [
        i
        for i, feature in enumerate(FEATURES)
        if feature.column
        in (
            "survey_ph",
            "survey_conductivity_us_cm",
            "survey_turbidity_ntu",
            "survey_iron_mg_l",
            "conductivity_excess_us_cm",
            "water_known",
        )
    ]
)
"""The features that a water sample tells."""

_RANGE = np.array([LEVELS["p10"], LEVELS["p50"], LEVELS["p90"]])


@dataclass(frozen=True, slots=True)
class WaterSample:
    """Expected effect of knowing the water, from `samples` past samples that this job might have shown.

    Widths are of the range that holds 8 such jobs in 10, now and on average with a sample. `price_with` is the
    average price before tax at the same accepted chance of loss; one sample in ten would ask for less than
    `price_low`, one in ten for more than `price_high`.
    """

    samples: int
    magnetite_width_kg: float
    magnetite_width_with_kg: float
    site_width_minutes: float
    site_width_with_minutes: float
    price: float
    price_with: float
    price_low: float
    price_high: float

    @property
    def narrower_share(self) -> float:
        """Share by which the range of magnetite narrows on average; below 0 where it widens."""
        return 1 - self.magnetite_width_with_kg / self.magnetite_width_kg if self.magnetite_width_kg > 0 else 0.0


def sampled_rows(x: Floats) -> Floats:
    """The newest of past jobs x (n, p), in order of time, whose water is known: what a model keeps of them."""
    return np.asarray(x[x[:, POSITION["water_known"]] == 1][-MOST_SAMPLED:])


def water_sample(model: QuoteModel, row: Floats, size: Volume, firm: Firm) -> WaterSample | None:
    """Worth of a sample for one request, its feature row (p,) and volume.

    None where the water is known already, too few past jobs have a sample, or the forecast counts emitters only.
    """
    known = row[POSITION["water_known"]] == 1
    if known or len(model.sampled) < LEAST_SAMPLES or model.targets["magnetite_kg"].method != "boosted":
        return None
    distance = survey_distance(model.neighbours, row, model.sampled, without=WATER)
    alike = model.sampled[np.argsort(distance, kind="stable")[:SAMPLES]]
    x = np.tile(row, (len(alike) + 1, 1))
    x[1:, WATER] = alike[:, WATER]
    with threads_for(len(x)):
        worked = work_out(model, x, [size] * len(x), firm)
    (kilos, kilos_with), (minutes, minutes_with) = (_widths(worked, t) for t in ("magnetite_kg", "site_minutes"))
    prices = np.array([price.price for price in worked.prices])
    low, high = np.quantile(prices[1:], [0.1, 0.9])
    return WaterSample(
        samples=len(alike),
        magnetite_width_kg=kilos,
        magnetite_width_with_kg=kilos_with,
        site_width_minutes=minutes,
        site_width_with_minutes=minutes_with,
        price=float(prices[0]),
        price_with=float(prices[1:].mean()),
        price_low=float(low),
        price_high=float(high),
    )


def _widths(worked: Worked, target: Target) -> tuple[float, float]:
    """Width of the range now (row 0) and expected with a sample (the other rows), in the target's unit."""
    low, middle, high = worked.sources[target].quantiles(_RANGE).T
    on_log = np.log(middle + SPECS[target].offset)
    moved = float(on_log[1:].mean() - on_log[0])
    width = high - low
    return float(width[0]), float(width[1:].mean() * np.exp(-moved))
