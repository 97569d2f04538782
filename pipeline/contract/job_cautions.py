"""What can hurt someone on this very job, from its own row of the job log: stops, and cautions that fit its plan.

A stop is a plan that must not be carried out as it stands; a caution says what to see to. Local codes and licensed
practice come first. Common practice, no source, where nothing else is said.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.contract.findings import Finding

MAINS_V = 230.0
"""Nominal voltage of a single-phase supply (IEC 60038)."""
SOCKET_A, SOCKET_KW = 13.0, 3.0
"""What a British socket gives: 13 A at 230 V are 2.99 kW."""
_FIRED = ("boiler", "both")
_HEATED = ("inline_heater", "both")


def stops(job: Mapping[str, Any]) -> tuple[Finding, ...]:
    """What forbids the plan of a job as it stands, from its columns of `jobs` (None: not known)."""
    if not (_is(job, "aluminium_exchanger") and _has_chemical(job) and not _is(job, "cleaner_suits_aluminium")):
        return ()
    sentence = (
        "Stop: a cleaning chemical is planned in a system with an aluminium heat exchanger. Acid and alkaline cleaners "
        "eat aluminium. Use none, or one whose label names aluminium (cleaner_suits_aluminium yes)."
    )
    return (Finding("stop_aluminium", sentence),)


def cautions(job: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Stops first, then what to see to."""
    found = (*stops(job), _aluminium(job), _notice(job), *_heat(job), _open_tank(job), _antifreeze(job))
    return tuple(each for each in found if each is not None)


def _is(job: Mapping[str, Any], column: str) -> bool:
    """Whether a yes/no column says yes; empty is not known."""
    value = job.get(column)
    return value is True or (value is not None and value == value and str(value).lower() in ("true", "yes", "1"))


def _number(job: Mapping[str, Any], column: str) -> float:
    value = job.get(column)
    return 0.0 if value is None or value != value or value == "" else float(value)


def _has_chemical(job: Mapping[str, Any]) -> bool:
    """Whether a cleaning chemical goes in: ahead of the visit, or at a ratio of the label's dose."""
    dosed = job.get("predosed_on")
    return (dosed is not None and dosed == dosed and dosed != "") or _number(job, "predose_label_ratio") > 0.0


def _aluminium(job: Mapping[str, Any]) -> Finding | None:
    value = job.get("aluminium_exchanger")
    if _is(job, "aluminium_exchanger"):
        sentence = (
            "The heat exchanger is aluminium: no acid and no alkaline chemical, neither cleaner nor neutraliser, and "
            "water left within the pH that the maker of the heat source allows (often 6.5 to 8.5, from memory)."
        )
        return Finding("aluminium", sentence)
    if (value is None or value != value) and _has_chemical(job):
        sentence = "Ask whether the heat exchanger is aluminium before a chemical goes in: some eat it."
        return Finding("aluminium_not_known", sentence)
    return None


def _notice(job: Mapping[str, Any]) -> Finding | None:
    dosed = job.get("predosed_on")
    if dosed is None or dosed != dosed or dosed == "":
        return None
    sentence = (
        "While the cleaner is in, leave a notice at the heat source: what is in the water, since when, whom to ring "
        "before anyone drains, tops up or works on it."
    )
    return Finding("notice", sentence)


def _heat(job: Mapping[str, Any]) -> list[Finding]:
    kw, found = _number(job, "heater_kw"), []
    if job.get("heat_source") in _HEATED:
        ampere = 1000.0 * kw / MAINS_V
        supply = (
            f"takes {ampere:.0f} A at {MAINS_V:.0f} V, and a {SOCKET_A:.0f} A socket gives {SOCKET_KW:.0f} kW: it "
            "needs a supply of its own, made by an electrician"
            if kw > SOCKET_KW
            else f"is a full load for a {SOCKET_A:.0f} A socket: no extension lead, nothing else on it"
        )
        size = f"The heater of {kw:g} kW" if kw else "A heater"
        sentence = f"{size} {supply}; behind a residual-current device (RCD), and away from the hoses."
        found.append(Finding("heater_supply", sentence, {"heater_kw": kw, "ampere": ampere}))
    if job.get("heat_source") in _FIRED and job.get("system_type") == "open_vented":
        found.append(Finding("vent_open", "Vent and feed stay open all the while that water is heated."))
    return found


def _open_tank(job: Mapping[str, Any]) -> Finding | None:
    if not _is(job, "machine_open_tank"):
        return None
    sentence = "The machine's tank is open to the air: no gauge tells of a leak, so watch the level in that tank."
    if job.get("system_type") == "sealed" and job.get("heat_source") in _FIRED:
        sentence += (
            " A sealed system has no pressure then and its boiler locks out: count on no heat from it, and never "
            "bridge the pressure switch."
        )
    return Finding("open_tank", sentence)


def _antifreeze(job: Mapping[str, Any]) -> Finding | None:
    if not _is(job, "antifreeze_at_survey"):
        return None
    sentence = (
        "The water holds antifreeze: it goes to no drain without permission, its flow cannot be told beforehand, and "
        "what is refilled needs its strength measured again."
    )
    return Finding("antifreeze", sentence)
