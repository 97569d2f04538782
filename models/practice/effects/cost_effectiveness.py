"""What a practice is worth: callbacks avoided, what one costs to avoid, what is left a job, in the book's currency.

A practice costs its material, and the minutes it adds on site: the difference in minutes between jobs with and without,
adjusted by the same estimator, times rate and crew. A pre-dose costs a visit ahead too, the same as in a quote. A
callback costs what `callback_cost` says. Overhead is a share of every direct cost, so it lies on both sides, as in a
quote. Both uncertain parts go into the interval together, job by job.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import Records
from models.practice.cohort.contrasts import Contrast
from models.practice.effects.doubly_robust import Adjusted, standard_error
from models.practice.effects.estimators import doubly_robust
from models.practice.effects.verdicts import Z
from models.practice.nuisance.nuisance_fits import expected, known_design
from models.practice.results.audit_result import Worth
from models.quote.base.callback_cost import visit_cost
from models.quote.pricing.price import predose_visit_cost
from pipeline.contract.firm import Firm
from pipeline.contract.units import MINUTES_PER_HOUR

Floats = NDArray[np.float64]
FEWEST_TIMED = 100
"""Jobs with minutes on site below which the added minutes are not worked out."""
MOST_MINUTES_QUANTILE = 0.99
"""Minutes beyond this quantile count as it: a flush left open in the log is not labour."""


def callback_cost(firm: Firm) -> float:
    """One return visit: travel, set-up and the firm's `callback_minutes` of the crew, with overhead."""
    return visit_cost(firm) * (1 + firm.overhead_share)


def material_cost(contrast: Contrast, firm: Firm, volume_l: float) -> tuple[float, str]:
    """Material of one job, and its words. `volume_l`: the usual system."""
    if contrast.spent == "filter":
        return firm.filter_cost, "one filter with fittings"
    doses = {
        "inhibitor": (firm.inhibitor_dose_l_per_100_l, firm.inhibitor_cost_per_l, "inhibitor"),
        "cleaner": (firm.cleaner_dose_l_per_100_l, firm.cleaner_cost_per_l, "cleaning chemical"),
    }
    if contrast.spent not in doses:
        return 0.0, "no material"
    dose, price, name = doses[contrast.spent]
    litres = dose * volume_l / 100
    if firm.chemical_pack_l > 0:
        litres = ceil(litres / firm.chemical_pack_l - 1e-9) * firm.chemical_pack_l
    return litres * price, f"{litres:g} L of {name}"


def worth(records: Records, adjusted: Adjusted, firm: Firm) -> Worth | None:
    """The worth of a practice by its own estimate, before `counted`; None where its effect was refused."""
    if adjusted.estimate is None or adjusted.kept is None:
        return None
    rows = adjusted.compared.rows[adjusted.kept]
    unit, contrast = records.unit[rows], adjusted.compared.contrast
    volume = float(np.nanmedian(records.frame["system_volume_l"].to_numpy(dtype=float)[rows]))
    material, words = material_cost(contrast, firm, volume)
    minutes, of_minutes = _added_minutes(records, adjusted)
    loaded = 1 + firm.overhead_share
    a_minute = loaded * firm.hourly_rate * firm.crew_size / MINUTES_PER_HOUR
    visit = predose_visit_cost(firm) if contrast.spent == "cleaner" else 0.0
    cost, each = loaded * (material + visit) + minutes * a_minute, callback_cost(firm)
    difference, of_difference = adjusted.estimate.difference, adjusted.estimate.of_difference
    half = Z * standard_error(of_difference, unit)
    net_half = Z * standard_error(each * of_difference + a_minute * of_minutes, unit)
    basis = words + (f", {minutes:+.0f} minutes on site" if of_minutes.any() else "")
    basis += ", a visit ahead by one person" if visit else ""
    basis += f", {100 * firm.overhead_share:.0f} % overhead" if firm.overhead_share else ""
    return Worth(
        avoided_per_100=-100 * difference,
        avoided_low=-100 * (difference + half),
        avoided_high=-100 * (difference - half),
        cost_per_job=cost,
        cost_per_callback=each,
        cost_per_avoided=max(cost, 0.0) / -difference if difference + half < 0 else None,
        net_per_job=-difference * each - cost,
        net_low=-difference * each - cost - net_half,
        net_high=-difference * each - cost + net_half,
        currency=firm.currency,
        basis=basis,
    )


def counted(worth: Worth, difference: float, spread: float) -> Worth:
    """The same with the effect that prices count: a difference shrunk towards none, and its standard deviation.

    What the interval of the net owes to the minutes stays.
    """
    each, half = worth.cost_per_callback, Z * spread
    of_effect = each * (worth.avoided_high - worth.avoided_low) / 200
    of_minutes = max(((worth.net_high - worth.net_low) / 2) ** 2 - of_effect**2, 0.0)
    net, net_half = -difference * each - worth.cost_per_job, float(np.sqrt(of_minutes + (each * half) ** 2))
    return replace(
        worth,
        avoided_per_100=-100 * difference,
        avoided_low=-100 * (difference + half),
        avoided_high=-100 * (difference - half),
        cost_per_avoided=max(worth.cost_per_job, 0.0) / -difference if difference < 0 else None,
        net_per_job=net,
        net_low=net - net_half,
        net_high=net + net_half,
    )


def _added_minutes(records: Records, adjusted: Adjusted) -> tuple[float, Floats]:
    """Adjusted difference in minutes on site, and the influence of every job on it; zero where it cannot be one."""
    assert adjusted.kept is not None
    assert adjusted.chance is not None
    assert adjusted.fold is not None
    rows, a = adjusted.compared.rows[adjusted.kept], adjusted.compared.a[adjusted.kept]
    influence = np.zeros(len(rows))
    minutes = records.frame["site_minutes"].to_numpy(dtype=float)[rows]
    timed = ~np.isnan(minutes)
    if not adjusted.compared.contrast.needs_flush or min((timed & a).sum(), (timed & ~a).sum()) < FEWEST_TIMED / 2:
        return 0.0, influence
    drawn = np.minimum(minutes[timed], np.quantile(minutes[timed], MOST_MINUTES_QUANTILE))
    known = records.known.beside(adjusted.compared.contrast.column)
    design, fold = known_design(known, rows[timed], records.engineer), adjusted.fold[adjusted.kept][timed]
    means = expected(design, a[timed], drawn, "linear", fold)
    found = doubly_robust(drawn, a[timed], adjusted.chance[adjusted.kept][timed], *means)
    influence[timed] = found.of_difference * len(rows) / timed.sum()
    return found.difference, influence
