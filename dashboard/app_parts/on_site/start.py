"""Beginning a job on site: from a kept quote, from the survey just priced, or from the bare minimum."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.app_parts.on_site.saving import draw_said, save
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
        name = st.text_input("Job", data.next_name(datetime.now()), key="site_name", max_chars=60)
        asked = surveys[chosen or BARE]
        job = dict(asked["jobs"][0]) if asked else _bare_job()
        emitters = list(asked.get("emitters", [])) if asked else _bare_emitters()
        now = datetime.now()
        began = st.time_input(
            "Flow started at", now.time().replace(second=0, microsecond=0), key="site_began", step=300
        )
        if st.button("Begin this job", key="site_begin", type="primary", width="stretch", icon=":material/play_arrow:"):
            began_at = min(datetime.combine(now.date(), began or now.time()), now).replace(microsecond=0)
            _begin((name or "").strip(), job, emitters, list(asked.get("pipe_runs", [])) if asked else [], began_at)
    frame.caution(
        "Fill through a proper backflow device, and disconnect it afterwards; never block an open vent or its feed. "
        "Isolate electricity before work on wiring; work on a gas appliance is for registered people. "
        "Local codes and licensed practice come first."
    )


def _surveys() -> Mapping[str, Mapping[str, Rows]]:
    """What a job can begin from: rows of the job log by table, none for the bare minimum."""
    found: dict[str, Mapping[str, Rows]] = dict(data.quoted_surveys())
    if priced := st.session_state.get("price_asked"):
        found[PRICED] = dict(zip(("jobs", "emitters", "pipe_runs"), priced, strict=True))
    return {**found, BARE: {}}


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


def _begin(name: str, job: Mapping[str, Any], emitters: Rows, pipe_runs: Rows, began_at: datetime) -> None:
    mine = {column for column in JOB_LOG["jobs"].names} - {"firm_id", "job_id", "visit_date", "flush_started_at"}
    facts = {
        "job": {column: value for column, value in job.items() if column in mine and value is not None},
        "emitters": [_without_key(row) for row in emitters],
        "pipe_runs": [_without_key(row) for row in pipe_runs],
        "flush_started_at": began_at,
    }
    if save(name, "start", facts):
        st.session_state[JOB] = name
        st.rerun()
    draw_said()


def _without_key(row: Mapping[str, Any]) -> dict[str, Any]:
    return {column: value for column, value in row.items() if column not in ("firm_id", "job_id")}
