"""What the report of a finished job says to the client, in words and rows: one content for whatever prints it.

The rinse target, conductivity within 10 % of the mains supply's and water running clear, is common practice
attributed to BS 7593:2019 at second hand (the clause itself was not seen).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from dashboard.papers.quote_contents import known
from dashboard.words import wording
from pipeline.contract.findings import BadInput
from pipeline.contract.photographs import SHOWN, Photograph

TABLES = ("jobs", "emitters", "ftr_outcome", "ftr_volume", "ftr_catch_curve", "ftr_emitter_curve")
"""Tables whose rows of the job the report is made from."""
SURFACES = ("top_before_c", "bottom_before_c", "top_after_c", "bottom_after_c")
MOST_SURFACES = 10
"""More would push the report over its two pages."""
RINSE_CLOSE = 0.10
RISING_TOPUPS = 2.0
"""Top-ups a year above which a leak is worth looking for: common practice, no source."""

CAUTIONS: tuple[str, ...] = (
    "Look at valves, joints and thin emitters over the next days: old ones can weep once the sludge is out.",
    "If the pressure keeps falling or water shows, switch the heating off and call us. Hot water scalds.",
    "Work on a gas appliance is for registered people only. Keep strong magnets away from pacemakers.",
)
WORDS: tuple[tuple[str, str], ...] = (
    ("Magnetite", "black iron oxide, from rusting steel inside the system; a magnet catches it"),
    ("Other debris", "sand, cement, scale, copper: what a magnet does not catch"),
    ("Conductivity", "how much is dissolved in the water; near the mains supply's means well rinsed"),
    ("Turbidity", "how cloudy the water is; clear water has little"),
    ("Inhibitor", "a chemical that slows rusting; it needs to be checked and topped up over the years"),
)
_WATER: tuple[tuple[str, str, str, str], ...] = (
    ("Conductivity", "µS/cm", "survey_conductivity_us_cm", "final_conductivity_us_cm"),
    ("Turbidity", "NTU", "survey_turbidity_ntu", "final_turbidity_ntu"),
    ("pH", "", "survey_ph", "final_ph"),
    ("Iron", "mg/L", "survey_iron_mg_l", "final_iron_mg_l"),
)
_FILTERS = {
    "none": "No magnetic filter was fitted.",
    "on_return": "A magnetic filter was fitted on the return.",
    "on_flow": "A magnetic filter was fitted on the flow.",
    "already_there": "A magnetic filter was there already and stays.",
}


@dataclass(frozen=True, slots=True)
class JobContents:
    """The client's report. `water` rows: what, before, after, mains; `emitters`: name and dry kilograms;
    `surfaces`: name, top and bottom before, top and bottom after [°C]; `curve`: flush minutes and dry kilograms of
    magnetite at each weighing; `photographs`: caption and JPEG, those that show most first."""

    job: str
    visited_on: date | None
    answer: str
    water: tuple[tuple[str, str, str, str], ...]
    curve: tuple[tuple[float, float], ...]
    emitters: tuple[tuple[str, str], ...]
    surfaces: tuple[tuple[str, str, str, str, str], ...]
    done: tuple[str, ...]
    left: str
    advice: tuple[str, ...]
    photographs: tuple[tuple[str, bytes], ...] = ()
    cautions: tuple[str, ...] = CAUTIONS
    words: tuple[tuple[str, str], ...] = WORDS


def job_contents(
    tables: Mapping[str, pd.DataFrame], left: str = "", photographs: Sequence[Photograph] = ()
) -> JobContents:
    """Of one job's rows of each of `TABLES`.

    `left` is what the catch says of what is still in there, if anything. BadInput for a job without weighings.
    """
    job, outcome = _first(tables["jobs"]), _first(tables["ftr_outcome"])
    curve = tables["ftr_catch_curve"]
    magnets = curve[(curve["trap"] == "magnet") & curve["minutes_since_start"].notna()]
    if not len(curve):
        raise BadInput("No catch of this job was logged, so there is nothing to report; load its `catches` first.")
    points = zip(magnets["minutes_since_start"], magnets["cumulative_magnetite_kg"], strict=True)
    visited = job.get("visit_date")
    return JobContents(
        job=str(job["job_id"]),
        visited_on=pd.Timestamp(str(visited)).date() if known(visited) else None,
        answer=_answer(outcome),
        water=tuple(_water(job)),
        curve=tuple((float(x), float(y)) for x, y in points if y == y),
        emitters=tuple(_emitters(tables["ftr_emitter_curve"], tables["emitters"])),
        surfaces=tuple(_surfaces(tables["emitters"])),
        done=tuple(_done(job, _first(tables["ftr_volume"]))),
        left=left,
        advice=tuple(_advice(job)),
        photographs=tuple(_captioned(photographs, tables["emitters"])),
    )


def _first(frame: pd.DataFrame) -> dict[str, Any]:
    return {str(name): value for name, value in frame.iloc[0].items()} if len(frame) else {}


def _answer(outcome: Mapping[str, Any]) -> str:
    kilos, other, minutes = (outcome.get(n) for n in ("magnetite_kg", "non_magnetic_kg", "flush_minutes"))
    taken = f" in {wording.duration(float(str(minutes)))} of flushing" if known(minutes) else ""
    first = f"{wording.kilograms(_number(kilos))} of magnetite sludge, weighed as dry, came out of this system{taken}."
    second = f" Other debris: {wording.kilograms(_number(other))}." if known(other) else ""
    return first + second


def _number(value: object) -> float | None:
    return float(str(value)) if known(value) else None


def _water(job: Mapping[str, Any]) -> list[tuple[str, str, str, str]]:
    rows = []
    for name, unit, before, after in _WATER:
        mains = job.get("mains_conductivity_us_cm") if name == "Conductivity" else None
        cells = [_number(job.get(before)), _number(job.get(after)), _number(mains)]
        if any(cell is not None for cell in cells[:2]):
            first, last, supply = ("–" if cell is None else wording.two_figures(cell, 1) for cell in cells)
            rows.append((f"{name} [{unit}]" if unit else name, first, last, supply))
    return rows


def _emitters(curves: pd.DataFrame, emitters: pd.DataFrame) -> list[tuple[str, str]]:
    named = emitters.set_index("emitter_no")
    rooms, kinds = named["room"].to_dict(), named["emitter_kind"].to_dict()
    totals = curves.groupby("emitter_no")["dry_g"].sum() / 1000.0
    return [
        (f"{_in_room(rooms.get(number), number)}{_of_kind(kinds.get(number))}", wording.kilograms(float(kilos)))
        for number, kilos in totals.sort_values(ascending=False).items()
    ]


def _surfaces(emitters: pd.DataFrame) -> list[tuple[str, str, str, str, str]]:
    """Emitters of which the bottom was felt before and after, those that gained most first."""
    felt = emitters.dropna(subset=["bottom_before_c", "bottom_after_c"]).reset_index(drop=True)
    gained = (felt["bottom_after_c"] - felt["bottom_before_c"]).sort_values(ascending=False, kind="stable")
    rows = []
    for _, row in felt.loc[gained.index[:MOST_SURFACES]].iterrows():
        cells = ("–" if pd.isna(row[name]) else f"{row[name]:.0f}" for name in SURFACES)
        top_before, bottom_before, top_after, bottom_after = cells
        name = _in_room(row["room"], row["emitter_no"])
        rows.append((name, top_before, bottom_before, top_after, bottom_after))
    return rows


def _captioned(photographs: Sequence[Photograph], emitters: pd.DataFrame) -> list[tuple[str, bytes]]:
    """Samples first, then traps, emitters and the rest, each kind in the order taken."""
    rooms = emitters.set_index("emitter_no")["room"].to_dict()
    found = []
    for each in sorted(photographs, key=lambda photograph: SHOWN.index(photograph.shows)):
        where = "" if each.emitter_no is None else f", {_in_room(rooms.get(each.emitter_no), each.emitter_no)}"
        found.append((f"{wording.plain(each.shows).capitalize()}{where}", each.jpeg))
    return found


def _in_room(room: object, number: object) -> str:
    """The room's name with a capital; the number alone where nobody named it."""
    return f"{str(room)[:1].upper()}{str(room)[1:]} ({number})" if known(room) else f"Emitter {number}"


def _of_kind(kind: object) -> str:
    return f", {wording.plain(kind)}" if known(kind) else ""


def _done(job: Mapping[str, Any], volume: Mapping[str, Any]) -> list[str]:
    lines = []
    if known(job.get("predosed_on")) and known(job.get("visit_date")):
        days = (pd.Timestamp(str(job["visit_date"])) - pd.Timestamp(str(job["predosed_on"]))).days
        lines.append(f"Cleaning chemical was put in {wording.count(days, 'day')} before the flush.")
    if known(job.get("isolation")):
        how = {"one_at_a_time": "one emitter at a time", "groups": "in groups of emitters", "all_open": "all together"}
        lines.append(f"The system was flushed {how[str(job['isolation'])]}.")
    if known(job.get("boiler_strainer")):
        lines.append(f"Strainer at the heat source: {wording.plain(job['boiler_strainer'])}.")
    if known(job.get("cleaner_put_in_l")):
        lines.append(f"Cleaning chemical put in: {job['cleaner_put_in_l']:g} L.")
    if known(job.get("inhibitor_dosed")):
        size = volume.get("system_volume_l")
        about = f" for about {wording.litres(float(str(size)))} of water" if known(size) else ""
        litres = f": {job['inhibitor_put_in_l']:g} L" if known(job.get("inhibitor_put_in_l")) else ""
        lines.append(f"Inhibitor was dosed{litres}{about}." if job["inhibitor_dosed"] else "No inhibitor was dosed.")
    if known(job.get("filter_fitted")):
        lines.append(_FILTERS[str(job["filter_fitted"])])
    return lines or ["What was fitted and dosed was not logged."]


def _advice(job: Mapping[str, Any]) -> list[str]:
    lines = []
    is_dosed = known(job.get("inhibitor_dosed")) and bool(job["inhibitor_dosed"])
    final, mains = _number(job.get("final_conductivity_us_cm")), _number(job.get("mains_conductivity_us_cm"))
    if final is not None and mains:
        over = final / mains - 1
        if over <= RINSE_CLOSE:
            lines.append("Rinsing is complete: the water's conductivity is within 10 % of the mains supply's.")
        elif is_dosed:
            lines.append(
                "The last conductivity stands above the mains supply's: inhibitor raises it too, so that it is no sign "
                "of dirt where it was read after dosing."
            )
        else:
            more = f"{100 * over:.0f} % above the mains supply's"
            lines.append(f"The water's conductivity is still {more}: have it rinsed further.")
    if job.get("filter_fitted") == "none":
        lines.append("Fit a magnetic filter on the return: it catches what is still loose or forms later.")
    elif known(job.get("filter_fitted")):
        lines.append("Have the magnetic filter cleaned at every service, the first time after a few weeks.")
    if known(job.get("inhibitor_dosed")) and not is_dosed:
        lines.append("Have inhibitor dosed: clean steel in fresh water begins to rust at once.")
    topups = _number(job.get("topups_per_year"))
    if topups is not None and topups > RISING_TOPUPS:
        lines.append("The system is topped up often. Fresh water brings oxygen, which makes new sludge: find the leak.")
    lines.append("No cleaning takes everything. Have the water checked within a year.")
    return lines
