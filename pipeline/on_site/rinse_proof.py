"""The rinse proved by conductivity before the inhibitor goes in, the dose proved by it after, and what is left to do.

Cleaner left behind and water that was softened or mixed both show: the rinsed water must lie within a tenth of the
mains' on either side, both at 25 °C. Inhibitor raises the conductivity, so that proof comes first; water that reads
after dosing as it did before holds no inhibitor.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.contract.findings import Finding
from pipeline.on_site.open_job import SiteJob

RINSE_CLOSENESS = 0.10
"""Rinsed when the water conducts within this share of the mains supply, above or below (common practice, no source)."""
SAME_READING = 0.05
"""Two readings that differ by less are one and the same: a meter on site shows no less (common practice, no source)."""
CLEAR_NTU = 10.0
"""Up to here water looks clear in a glass (from memory)."""
PER_KELVIN = 0.019
"""Conductivity of natural water rises by this share of that at 25 °C with each kelvin (ISO 7888, from memory)."""
REFERENCE_C = 25.0
COLDEST_C, WARMEST_C = 0.0, 60.0


def at_25_c(conductivity_us_cm: float, water_c: float | None) -> float:
    """Conductivity [µS/cm] as it would read at 25 °C; as read where the warmth is not known: the meter compensates.

    ValueError outside 0..60 °C, where the straight line does not hold.

    >>> round(at_25_c(628.0, 55.0))
    400
    """
    if water_c is None:
        return conductivity_us_cm
    if not COLDEST_C <= water_c <= WARMEST_C:
        raise ValueError(f"water_c must lie in {COLDEST_C:g}..{WARMEST_C:g}, it is {water_c:g}.")
    return conductivity_us_cm / (1.0 + PER_KELVIN * (water_c - REFERENCE_C))


def readings_at_25_c(facts: Mapping[str, Any], water_c: Mapping[str, float | None]) -> dict[str, Any]:
    """The facts with each conductivity as it would read at 25 °C, where the warmth of its water [°C] is given.

    ValueError outside 0..60 °C.
    """
    return {
        name: round(at_25_c(value, water_c[name]), 1) if value is not None and water_c.get(name) is not None else value
        for name, value in facts.items()
    }


def before_finishing(job: SiteJob, facts: Mapping[str, Any], readings: int) -> tuple[Finding, ...]:
    """What a careful person would still do or write down before leaving, a sentence each; nothing is demanded."""
    strainer = facts.get("boiler_strainer")
    asked = (
        ("no_catch", not job.all_of("catch"), "No catch was weighed."),
        (
            "hours_open",
            not (facts.get("left_at") and (facts.get("arrived_at") or job.arrived_at)),
            "Say when you arrived and when you leave: without both, the job cannot be held against its quote.",
        ),
        ("no_reading", not readings, "No reading was noted: flow, temperatures or water."),
        ("strainer", strainer is None, "Say what was done with the strainer at the heat source."),
        ("strainer_left", strainer == "left_in", "The strainer was left in: it may be full of what was loosened."),
        ("base", not facts.get("strainer_checked"), "Look into the strainer and the machine base for sand and scale."),
        ("filter", facts.get("filter_fitted") in (None, "none"), "No magnetic filter is left on the system."),
        ("inhibitor", not facts.get("inhibitor_dosed"), "No inhibitor was dosed: bare steel rusts again at once."),
        ("final_ph", facts.get("final_ph") is None, "The pH of the water left in is not written down."),
    )
    return (*rinse(facts), *dose(facts), *(Finding(code, sentence) for code, is_so, sentence in asked if is_so))


def rinse(facts: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Whether the water was rinsed far enough: conductivity of the last rinse (before inhibitor) against the mains',
    both at 25 °C, and turbidity."""
    water, mains = facts.get("final_conductivity_us_cm"), facts.get("mains_conductivity_us_cm")
    turbidity = facts.get("final_turbidity_ntu")
    found = []
    if water is None or not mains:
        sentence = "Measure the conductivity of the last rinse and of the mains, before the inhibitor goes in."
        found.append(Finding("rinse_unknown", sentence))
    else:
        found += _against_mains(water / mains - 1.0)
    if turbidity is not None and turbidity > CLEAR_NTU:
        sentence = f"The water is still at {turbidity:g} NTU: rinse until it is clear, {CLEAR_NTU:g} NTU or less."
        found.append(Finding("turbid", sentence, {"turbidity_ntu": turbidity}))
    return tuple(found)


def _against_mains(share: float) -> list[Finding]:
    facts = {"share_above": share}
    if share > RINSE_CLOSENESS + 1e-9:
        sentence = f"The water conducts {round(100 * share)} % more than the mains: rinse until it is within 10 %."
        return [Finding("rinse_on", f"{sentence} If inhibitor is in already, this reading came too late.", facts)]
    if share < -RINSE_CLOSENESS - 1e-9:
        sentence = (
            f"The water conducts {round(-100 * share)} % less than the mains: a rinse cannot bring it there. Check the "
            "meter, whether both were read at one temperature, and whether the mains was softened."
        )
        return [Finding("rinse_below_mains", sentence, facts)]
    return []


def dose(facts: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Whether the inhibitor shows in the water: its conductivity after dosing against that of the last rinse."""
    if not facts.get("inhibitor_dosed"):
        return ()
    test = "Test the inhibitor's strength before leaving: too thin it pits steel; the label says how."
    rinsed = facts.get("final_conductivity_us_cm")
    after = facts.get("dosed_conductivity_us_cm")
    if rinsed and after is not None and abs(after - rinsed) <= SAME_READING * rinsed:
        sentence = f"The water reads {after:g} µS/cm as it did before dosing: the inhibitor is missing. {test}"
        return (Finding("dose_missing", sentence, {"rinsed_us_cm": rinsed, "dosed_us_cm": after}),)
    return (Finding("strength_test", test),)
