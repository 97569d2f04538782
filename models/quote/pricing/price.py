"""Price of a job: cost in every joint scenario, then the price that keeps the owner's two rules.

1. The chance of losing money is at most what the owner accepts. The job is called back or it is not: of s scenarios,
   each with a chance p of one return visit that costs v, a price c loses with (1 − p)·S(c) + p·S(c − v), where
   S(c) = (costs without return visit above c + 1) / (s + 1), the same rounding outward as the forecast's quantiles.
2. At the median cost the profit is at least the target margin: price ≥ median cost / (1 − margin). A margin is earned
   over many jobs, so here, and in the costs and parts told, return visits count at their mean p·v.
The higher of the two, never below the firm's lowest price, is rounded up to the firm's step, so that
rounding never raises the chance. Costs and prices are before tax, in the firm's currency.

Water and chemical follow the volume of each scenario, the chemical by whole containers. The parts of the cost
are what each is expected to be where the cost is the median: E[part | cost = median], which adds up to it
(Euler allocation of a quantile; D. Tasche, "Risk contributions and performance measurement", 1999, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.quantiles import LEVELS, Quantiles
from models.quote.base.callback_cost import visit_cost
from models.quote.base.quote_result import CostPart, Price, PricePoint, PriceRule
from pipeline.contract.firm import Firm
from pipeline.contract.units import L_PER_M3, MINUTES_PER_HOUR

Floats = NDArray[np.float64]

PART_NAMES: tuple[str, ...] = (
    "Labour on site",
    "Travel",
    "Preparation",
    "Second day",
    "Pre-dose visit",
    "Cleaning chemical",
    "Inhibitor",
    "Magnetic filter",
    "Water",
    "Disposal",
    "Expected callbacks",
    "Overhead",
)

CURVE_POINTS = 41

_NEAR_SHARE = 0.1
"""Share of the scenarios on each side of the median that tell what its parts are."""


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """What n requests would take in each of s scenarios, and what is known of each request.

    `site_minutes`, `magnetite_kg`, `non_magnetic_kg` are (n, s), masses dry; `volume_l` (n, s) of the system, or
    (n, 1) where it is the same in all; `crew` (n,) people, `filter_there` (n,): none is to be fitted, `predosed`
    (n,): a visit ahead puts the chemical in, `day_minutes` (n,) on site beyond which a scenario takes a second day.
    `callback_chance` (n,) of an unpaid return visit; None: not counted.
    """

    site_minutes: Floats
    magnetite_kg: Floats
    non_magnetic_kg: Floats
    volume_l: Floats
    crew: Floats
    filter_there: NDArray[np.bool_]
    predosed: NDArray[np.bool_]
    day_minutes: Floats
    callback_chance: Floats | None = None


def cost_parts(work: Work, firm: Firm) -> Floats:
    """Cost (n, s, parts) in the order of `PART_NAMES`."""
    days = np.maximum(np.ceil(work.site_minutes / work.day_minutes[:, None]), 1.0)
    per_minute = (work.crew * firm.hourly_rate / MINUTES_PER_HOUR)[:, None]
    debris_wet_kg = (work.magnetite_kg + work.non_magnetic_kg) * firm.wet_dry_ratio
    cleaner_l = work.volume_l * firm.cleaner_dose_l_per_100_l / 100
    inhibitor_l = work.volume_l * firm.inhibitor_dose_l_per_100_l / 100
    water_m3 = work.volume_l * firm.water_fills / L_PER_M3
    direct: list[Floats | float] = [
        per_minute * work.site_minutes,
        per_minute * firm.travel_minutes * days,
        per_minute * firm.preparation_minutes,
        (days - 1) * firm.second_day_cost,
        np.where(work.predosed, predose_visit_cost(firm), 0.0)[:, None],
        bought(cleaner_l, firm) * firm.cleaner_cost_per_l,
        bought(inhibitor_l, firm) * firm.inhibitor_cost_per_l,
        np.where(work.filter_there, 0.0, firm.filter_cost)[:, None],
        water_m3 * firm.water_cost_per_m3,
        debris_wet_kg * firm.disposal_cost_per_kg + firm.disposal_cost_per_job,
        0.0 if work.callback_chance is None else work.callback_chance[:, None] * visit_cost(firm),
    ]
    shape = work.site_minutes.shape
    parts = np.stack([np.broadcast_to(np.asarray(part), shape) for part in direct], axis=2)
    overhead = parts.sum(axis=2, keepdims=True) * firm.overhead_share
    return np.concatenate([parts, overhead], axis=2)


def predose_visit_cost(firm: Firm) -> float:
    """One person's journey and time to put the cleaning chemical in ahead of the day; the chemical itself apart."""
    return (firm.travel_minutes + firm.predose_visit_minutes) * firm.hourly_rate / MINUTES_PER_HOUR


def day_length(site_minutes: Floats, second_day: Floats) -> Floats:
    """Minutes (n,) that the share `second_day` (n,) of each request's scenarios (n, s) exceeds."""
    ordered = np.sort(site_minutes, axis=1)
    s = ordered.shape[1]
    at = np.clip(np.round((1 - second_day) * s).astype(int), 0, s)
    # between the last scenario of one day and the first of two; beyond all where none takes two
    edges = np.concatenate([ordered[:, :1] * 0.5, ordered, ordered[:, -1:] * 2], axis=1)
    rows = np.arange(len(ordered))
    return np.asarray((edges[rows, at] + edges[rows, at + 1]) / 2)


def bought(litres: Floats, firm: Firm) -> Floats:
    """Litres used up for a dose: whole containers, or the dose itself where the pack size is 0."""
    if firm.chemical_pack_l == 0:
        return litres
    return np.asarray(np.ceil(litres / firm.chemical_pack_l - 1e-9) * firm.chemical_pack_l)


def prices(work: Work, firm: Firm) -> list[Price]:
    """One price a request."""
    parts = cost_parts(work, firm)
    costs = parts.sum(axis=2)
    order = np.argsort(costs, axis=1, kind="stable")
    ordered = np.take_along_axis(costs, order, axis=1)
    s = costs.shape[1]
    middle = max((s + 1) // 2 - 1, 0)
    at_median = parts_at_median(parts, order, middle)
    none = np.zeros(len(costs))
    visits = [
        Gamble(float(chance), firm) for chance in (none if work.callback_chance is None else work.callback_chance)
    ]
    return [_price(ordered[i], at_median[i], middle, visits[i], firm) for i in range(len(costs))]


class Gamble:
    """One job's return visit: its chance, what one costs with overhead, and that at its mean."""

    def __init__(self, chance: float, firm: Firm) -> None:
        self.chance = chance
        self.each = visit_cost(firm) * (1 + firm.overhead_share)
        self.mean = chance * self.each

    def loss(self, ordered: Floats, price: float | Floats) -> Floats:
        """Chance of loss at the prices, by costs (s,) ascending that hold return visits at their mean."""
        without = ordered - self.mean
        kept, back = chance_of_loss(without, price), chance_of_loss(without, np.asarray(price) - self.each)
        return np.asarray((1 - self.chance) * kept + self.chance * back)

    def lowest_price(self, ordered: Floats, accepted: float) -> float:
        """The lowest price, among those at which the chance of loss falls, that loses with no more than that chance."""
        without = ordered - self.mean
        falls = without if self.chance == 0 else np.sort(np.concatenate([without, without + self.each]))
        kept = np.flatnonzero(self.loss(ordered, falls) <= accepted + 1e-9)
        return float(falls[kept[0]] if len(kept) else falls[-1])


def parts_at_median(parts: Floats, order: NDArray[np.intp], middle: int) -> Floats:
    """Each part (n, p) of the cost where the cost is its median; `order` (n, s) sorts the scenarios by cost.

    A straight line of each part against the cost, through the scenarios near the median, read at the median: the
    same weights for all parts, so that they add up to it exactly and a part that never varies stays as it is.
    """
    s = order.shape[1]
    width = min(round(s * _NEAR_SHARE), middle, s - 1 - middle)
    near = np.take_along_axis(parts, order[:, middle - width : middle + width + 1, None], axis=1)
    costs = near.sum(axis=2)
    centre = costs.mean(axis=1, keepdims=True)
    away = costs - centre
    spread = (away**2).sum(axis=1, keepdims=True)
    flat = spread < 1e-9
    slope = np.where(flat, 0.0, (costs[:, width, None] - centre) / np.where(flat, 1.0, spread))
    weights = 1 / near.shape[1] + slope * away
    median = near[:, width]  # weights add up to 1: from here on, what never varies stays so to the last bit
    return np.asarray(median + (weights[:, :, None] * (near - median[:, None])).sum(axis=1))


def chance_of_loss(ordered_costs: Floats, price: float | Floats) -> Floats:
    """Chance that the cost exceeds the price: (costs above + 1) / (s + 1), never quite nil.

    `ordered_costs` (s,) ascending.
    """
    s = len(ordered_costs)
    at_most = np.searchsorted(ordered_costs, np.asarray(price, dtype=float) + 1e-9, side="right")
    return np.asarray((s - at_most + 1) / (s + 1))


def _price(ordered: Floats, median_parts: Floats, middle: int, visit: Gamble, firm: Firm) -> Price:
    at_risk = visit.lowest_price(ordered, firm.accepted_chance_of_loss)
    at_margin = float(ordered[middle]) / (1 - firm.target_margin_share)
    wanted: dict[PriceRule, float] = {"chance_of_loss": at_risk, "margin": at_margin, "lowest_price": firm.lowest_price}
    set_by = max(wanted, key=lambda name: wanted[name])
    price = round_up(wanted[set_by], firm)
    return Price(
        currency=firm.currency,
        price=price,
        price_with_tax=round(price * (1 + firm.tax_share), 2),
        accepted_chance_of_loss=firm.accepted_chance_of_loss,
        target_margin_share=firm.target_margin_share,
        cost=_cost_quantiles(ordered, middle),
        parts=tuple(map(CostPart, PART_NAMES, median_parts.tolist())),
        curve=_curve(ordered, price, visit),
        chance_of_loss=float(visit.loss(ordered, price)),
        set_by=set_by,
    )


def round_up(price: float, firm: Firm) -> float:
    """Up to the next multiple of the firm's step (0: to 0.01)."""
    step = firm.price_step or 0.01
    return round(math.ceil(price / step - 1e-9) * step, 2)


def _cost_quantiles(ordered: Floats, middle: int) -> Quantiles:
    s = len(ordered)
    found = []
    for level in LEVELS.values():
        rank = (s + 1) * level
        k = math.floor(rank + 1e-9) if level < 0.5 else math.ceil(rank - 1e-9)
        found.append(ordered[middle] if level == 0.5 else ordered[min(max(k, 1), s) - 1])
    return Quantiles.from_values(found)


def _curve(ordered: Floats, price: float, visit: Gamble) -> tuple[PricePoint, ...]:
    """Chance of loss from the cheapest scenario to beyond the dearest, the quoted price among the points."""
    low, dearest = float(ordered[0] - visit.mean) * 0.95, float(ordered[-1])
    high = max(dearest + (visit.each - visit.mean if visit.chance else 0.0), price) * 1.05
    at = np.sort(np.append(np.round(np.linspace(low, high, CURVE_POINTS - 1), 2), price))
    at = at[np.append(True, at[1:] != at[:-1])]  # `np.unique` imports masked arrays
    chances = visit.loss(ordered, at)
    return tuple(map(PricePoint, at.tolist(), chances.tolist()))
