"""Beginning a job on site: from a kept quote, from the survey just priced, or from the bare minimum."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.app_parts.on_site.saving import draw_said, save
from dashboard.data import QuotedSurvey
from dashboard.words import wording
from pipeline.contract import JOB_LOG

BARE, PRICED = "Nothing surveyed", "The survey just priced"
PLAN = ("isolation", "heat_source", "agitation")
JOB = "site_job"
Rows = list[dict[str, Any]]


def draw_start() -> None:
    """The form that begins a job. Everything but the kind of system has an answer already."""
    surveys = _surveys()
    with st.container(width=680):
        chosen = st.selectbox("Begin from", list(surveys), key="site_from") if len(surveys) > 1 else BARE
        survey = surveys[chosen or BARE]
        name = _name(survey)
        asked = survey.asked
        job = dict(asked["jobs"][0]) if asked else _bare_job()
        emitters = data.emitters_to_walk(job, asked.get("emitters", [])) if asked else _bare_emitters()
        now = datetime.now()
        job |= _people_and_arrival(now)
        began = st.time_input(
            "Flow started at", now.time().replace(second=0, microsecond=0), key="site_began", step=300
        )
        if st.button("Begin this job", key="site_begin", type="primary", width="stretch", icon=":material/play_arrow:"):
            began_at = min(datetime.combine(now.date(), began or now.time()), now).replace(microsecond=0)
            rows: dict[str, Rows] = {
                "jobs": [job],
                "emitters": emitters,
                "pipe_runs": [dict(row) for row in asked.get("pipe_runs", [])],
            }
            _begin(name, QuotedSurvey(survey.quote_id, survey.job_id, rows), began_at)
    frame.caution(
        "Fill through a proper backflow device, and disconnect it afterwards; never block an open vent or its feed. "
        "Isolate electricity before work on wiring; work on a gas appliance is for registered people. "
        "Local codes and licensed practice come first."
    )


def _surveys() -> Mapping[str, QuotedSurvey]:
    """What a job can begin from; without rows for the bare minimum."""
    found = data.quoted_surveys()
    if priced := st.session_state.get("price_asked"):
        found[PRICED] = QuotedSurvey("", "", dict(zip(("jobs", "emitters", "pipe_runs"), priced, strict=True)))
    return {**found, BARE: QuotedSurvey("", "", {})}


def _name(survey: QuotedSurvey) -> str:
    """The name of the job: as quoted where that is free, else the day and a letter."""
    free = bool(survey.job_id) and data.is_free(survey.job_id)
    first = survey.job_id if free else data.next_name(datetime.now())
    key = f"site_name_{survey.quote_id}" if survey.quote_id else "site_name"
    return (st.text_input("Job", first, key=key, max_chars=60) or "").strip()


def _people_and_arrival(now: datetime) -> dict[str, Any]:
    """Who leads, by id, and since when the crew has been there; what is left empty stays unknown."""
    left, right = st.columns(2, gap="small")
    arrived = left.time_input("Arrived at", None, key="site_arrived", step=300)
    leads = right.selectbox(
        "Who leads", data.engineers(), None, key="site_leads", accept_new_options=True, placeholder="Id, no name"
    )
    return {
        "arrived_at": None if arrived is None else datetime.combine(now.date(), arrived),
        "engineer_id": (leads or "").strip() or None,
    }


def _bare_job() -> dict[str, Any]:
    system = st.segmented_control(
        "System",
        JOB_LOG["jobs"].column("system_type").choices,
        format_func=wording.plain,
        key="site_system",
        width="stretch",
    )
    job: dict[str, Any] = {"system_type": system}
    with st.expander("How it is flushed"):
        labels = {"isolation": "Flow on", "heat_source": "Heat", "agitation": "Rust is shaken by"}
        for name in PLAN:
            choices = JOB_LOG["jobs"].column(name).choices
            job[name] = st.selectbox(
                labels[name], choices, None, format_func=wording.plain, key=f"site_plan_{name}", placeholder="Not known"
            )
    return job


def _bare_emitters() -> Rows:
    count = st.number_input("How many emitters", 0, 60, 8, 1, key="site_count")
    return [{"emitter_no": number} for number in range(1, int(count or 0) + 1)]


def _begin(name: str, survey: QuotedSurvey, began_at: datetime) -> None:
    (job,) = survey.asked["jobs"]
    mine = {column for column in JOB_LOG["jobs"].names} - {"firm_id", "job_id", "visit_date", "flush_started_at"}
    facts = {
        "job": {column: value for column, value in job.items() if column in mine and value is not None},
        "emitters": [_without_key(row) for row in survey.asked["emitters"]],
        "pipe_runs": [_without_key(row) for row in survey.asked["pipe_runs"]],
        "flush_started_at": began_at,
        "quote_id": survey.quote_id,
    }
    if save(name, "start", facts):
        st.session_state[JOB] = name
        st.rerun()
    draw_said()


def _without_key(row: Mapping[str, Any]) -> dict[str, Any]:
    return {column: value for column, value in row.items() if column not in ("firm_id", "job_id")}
