"""The end of a job on site: rinsed, refitted, treated, written down; then into the book like any other log."""

from __future__ import annotations

from collections.abc import Container, Sequence
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame, paper_parts
from dashboard.app_parts.on_site.saving import SAID, save
from dashboard.app_parts.on_site.start import JOB
from dashboard.words import wording
from dashboard.words.literal import literal
from pipeline.contract import JOB_LOG
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    from dashboard.data import SiteJob

DONE = "site_done"
NIGHT = timedelta(hours=12)
"""A job of which nothing was entered for longer ended when the last entry was made, unless somebody says otherwise."""
WATER = {
    "mains_conductivity_us_cm": "Conductivity, mains",
    "final_conductivity_us_cm": "Conductivity, last rinse, before inhibitor",
    "dosed_conductivity_us_cm": "Conductivity, once dosed",
    "final_turbidity_ntu": "Turbidity",
    "final_ph": "pH",
}
PUT_IN = {"cleaner_put_in_l": "Cleaner put in", "inhibitor_put_in_l": "Inhibitor put in"}
LEFT_IN = {"boiler_strainer": "Strainer at the heat source", "filter_fitted": "Magnetic filter"}
PLAIN_METER = "Meter does not compensate"
WARMTH = {
    "mains_conductivity_us_cm": "Mains water",
    "final_conductivity_us_cm": "Last rinse",
    "dosed_conductivity_us_cm": "Once dosed",
}
TICKS = {
    "strainer_checked": "Strainer and machine base looked into",
    "inhibitor_dosed": "Inhibitor dosed",
    "flow_reversed": "Flow was reversed",
}


def draw_finish(job: SiteJob, readings: int) -> None:
    """The form that finishes a job; for one that is finished but not in the book, the way to put it there."""
    if job.finish is not None:
        st.header(f"{literal(job.name)} is finished, but not in the book yet.", anchor=False)
        st.button(
            "Put it in the book",
            key="site_hand_in",
            type="primary",
            width="stretch",
            on_click=_hand_in,
            args=(job.name,),
        )
        return
    with st.expander("Finish the job", icon=":material/flag:", key="site_finish"):
        frame.caution(
            "Neutralise an acid cleaner before it is rinsed out. Waste water goes to the foul sewer, cooled, where "
            "that is permitted, never to surface water. Keep the hose's end under water: no spray, for warm water that "
            "stood may hold legionella. Local codes come first."
        )
        frame.small("Conductivity at 25 °C, as most meters show it: 5 K warmer reads 10 % more on one that does not.")
        warmth = _warmth()
        facts = data.readings_at_25_c(_facts(job), warmth)
        before = st.container()
        times = _times(job)
        missing = data.before_finishing(job, facts | times, readings)
        if missing:
            before.markdown(
                "**Before you leave**\n\n" + "\n".join(f"- {literal(finding.sentence)}" for finding in missing)
            )
        st.button(
            "Finish and put it in the book",
            key="site_finish_now",
            width="stretch",
            icon=":material/flag:",
            on_click=_finish,
            args=(job.name, facts | times),
        )


def _warmth() -> dict[str, float | None]:
    """How warm the water was at each reading [°C], where the meter leaves it to its reader to put that right."""
    if not st.toggle(PLAIN_METER, key="site_plain_meter"):
        return {}
    coldest, warmest = data.compensated_range_c()
    return {
        name: column.number_input(
            f"{words} [°C]", coldest, warmest, None, 1.0, key=f"site_warmth_{name}", format="%g", placeholder="–"
        )
        for column, (name, words) in zip(st.columns(len(WARMTH), gap="small"), WARMTH.items(), strict=True)
    }


def _facts(job: SiteJob) -> dict[str, Any]:
    """What is left in the system and how it was proved; the last reading stands in the fields already."""
    last: dict[str, Any] = {}
    for event in job.all_of("reading"):
        last |= event.of
    begun = (job.start.of.get("job") or {}) if job.start else {}
    known = {
        "mains_conductivity_us_cm": begun.get("mains_conductivity_us_cm"),
        "final_ph": last.get("ph"),
        "final_conductivity_us_cm": last.get("conductivity_us_cm"),
        "final_turbidity_ntu": last.get("turbidity_ntu"),
    }
    facts: dict[str, Any] = {}
    asked = WATER | PUT_IN
    names = list(asked)
    for first in range(0, len(names), 2):
        for column, name in zip(st.columns(2, gap="small"), names[first : first + 2], strict=False):
            facts[name] = _number(column, name, asked[name], known.get(name))
    for name, words in LEFT_IN.items():
        facts[name] = st.selectbox(
            words,
            JOB_LOG["jobs"].column(name).choices,
            None,
            format_func=wording.plain,
            key=f"site_end_{name}",
            placeholder="Choose",
            filter_mode=None,
        )
    return facts | _ticks(job)


def _number(place: Any, name: str, words: str, value: Any) -> float | None:
    """One figure of the end of a job; what was read last stands in it already."""
    allowed = JOB_LOG["jobs"].column(name)
    unit = "" if allowed.unit == "pH" else f" [{allowed.unit}]"
    number: float | None = place.number_input(
        f"{words}{unit}",
        float(allowed.low or 0),
        float(allowed.high or 0),
        None if value is None else float(value),
        0.5 if allowed.unit == "L" else 1.0,
        key=f"site_end_{name}_{value}",
        format="%g",
        placeholder="–",
    )
    return number


def _ticks(job: SiteJob) -> dict[str, bool]:
    """What was done; that the flow was reversed may have been said in the course of the job."""
    reversed_before = any(event.of.get("flow_reversed") for event in job.all_of("change"))
    return {
        name: st.checkbox(words, name == "flow_reversed" and reversed_before, key=f"site_end_{name}")
        for name, words in TICKS.items()
    }


def _times(job: SiteJob) -> dict[str, datetime]:
    """When the flow ended, with its day where the job did not begin today; when it began, where that cannot be."""
    now = datetime.now().replace(microsecond=0)
    began = job.started_at or now
    times: dict[str, datetime] = {}
    stood = min(job.events[-1].at, now)
    usual = now if now - stood < NIGHT else stood  # over a midnight it ends today
    last = usual.date()
    if data.is_start_at_fault(job):
        day = st.date_input("Day the flow began", last, None, now.date(), key="site_began_on")
        at = st.time_input("Flow began at", job.events[0].saved_at.time(), key="site_began_at", step=300)
        times["flush_started_at"] = began = min(datetime.combine(day or last, at or now.time()), now)
    day = now.date()
    if began.date() < now.date():
        day = st.date_input(
            "Day the flow ended", max(last, began.date()), began.date(), now.date(), key="site_ended_on"
        )
    ended = st.time_input("Flow ended at", usual.time().replace(second=0), key="site_ended", step=300)
    ended_at = _ended_at(job, now, ended, day or now.date())
    return {**times, "flush_ended_at": ended_at, **_on_site(job, began, ended_at)}


def _on_site(job: SiteJob, began: datetime, ended_at: datetime) -> dict[str, datetime]:
    """When the crew arrived, where that is not known yet, and left: the hours that a quote is held against."""
    told: dict[str, datetime] = {}
    columns = iter(st.columns(1 if job.arrived_at else 2, gap="small"))
    if not job.arrived_at:
        arrived = next(columns).time_input("Arrived at", None, key="site_arrived_late", step=300)
        told |= {} if arrived is None else {"arrived_at": datetime.combine(began.date(), arrived)}
    left = next(columns).time_input("Left site at", None, key="site_left", step=300)
    return told if left is None else {**told, "left_at": _after(ended_at, left)}


def _after(ended_at: datetime, left: time) -> datetime:
    """The first time of that clock at or after the end of the flow: work over midnight is left the next morning."""
    same_day = datetime.combine(ended_at.date(), left)
    return same_day if same_day >= ended_at.replace(second=0, microsecond=0) else same_day + timedelta(days=1)


def _ended_at(job: SiteJob, now: datetime, ended: time | None, day: date) -> datetime:
    """The time that was chosen, between the last catch and now."""
    chosen = datetime.combine(day, ended or now.time())
    last = max((event.at for event in job.all_of("catch")), default=chosen)
    return now if chosen.replace(second=0) == now.replace(second=0) else min(max(chosen, last), now)


def _finish(name: str, facts: dict[str, Any]) -> None:
    if save(name, "finish", {each: value for each, value in facts.items() if value is not None}):
        _hand_in(name)


def _hand_in(name: str) -> None:
    """Into the book. What is finished stays finished if this fails: it can be done again."""
    try:
        report = data.hand_in_site_job(name)
    except SludgebookError as problem:
        st.session_state[DONE] = (name, 0, problem.sentence)
    else:
        lost = wording.listed([f"{each.column} {each.reason}" for each in report.rejects if each.table == "jobs"])
        st.session_state[DONE] = (name, len(report.rejects), f"{lost}. Open it again below." if lost else "")
        st.session_state.pop(SAID, None)


def draw_received(still_open: Container[str]) -> None:
    """What became of the job just finished."""
    name, rejects, problem = st.session_state.get(DONE) or ("", 0, "")
    if not name:
        return
    if problem:
        said = literal(f"{name} is finished and saved, but not in the book yet: {problem}")
        st.error(said, icon=":material/error:")
    elif name not in still_open:
        left_out = f" {wording.count(rejects, 'row was', 'rows were')} rejected: see Intake." if rejects else ""
        st.success(f"{literal(name)} is in the book.{left_out}", icon=":material/menu_book:")
        shelf = data.shelf()
        if shelf.state == "ready":
            paper_parts.draw_job_paper(shelf.build, data.FIRM, name, key="site_paper")


def draw_again() -> None:
    """Open a job again that is in the book already: finishing it once more gives a correction."""
    finished: Sequence[SiteJob] = [job for job in data.site_jobs() if job.received is not None][:20]
    if not finished:
        return
    with st.expander("Open a finished job again", icon=":material/edit:"):
        name = st.selectbox("Job", [job.name for job in finished], key="site_again", filter_mode=None)
        frame.small("The book keeps what it has. Finishing the job again hands in a correction.")
        st.button("Open it again", key="site_reopen", width="stretch", on_click=_reopen, args=(name,))


def _reopen(name: str) -> None:
    if save(name, "reopen", {}):
        st.session_state[JOB] = name
        st.session_state.pop(DONE, None)
