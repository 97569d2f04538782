"""Parts of "Job book": the list to browse, and one job's whole story."""

from __future__ import annotations

import re
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st

from dashboard import data, tallies
from dashboard.app_parts import frame
from dashboard.figures import job_book as figures
from dashboard.kept import kept
from dashboard.words import wording
from dashboard.words.literal import literal
from models.refusals import NotEnoughData
from pipeline.contract import JOB_LOG

MOST_LISTED = 500
"""More choices than this are slow to send to a phone."""
MOST_BROWSED = 2000
SURVEY = (
    "property_kind",
    "system_type",
    "pipe_layout",
    "emitter_count",
    "system_volume_l",
    "boiler_kind",
    "install_year",
    "last_cleaned_year",
    "inhibitor_at_survey",
    "filter_at_survey",
    "topups_per_year",
    "known_building_debris",
    "heat_source",
    "connection",
    "isolation",
    "agitation",
    "predosed_on",
)
READINGS = (
    ("flow_l_min", "Flow", "L/min", "flow"),
    ("turbidity_ntu", "Turbidity", "NTU", "debris"),
    ("conductivity_us_cm", "Conductivity", "µS/cm", "flow"),
    ("pressure_bar", "Pressure", "bar", "flow"),
)


def draw_usual(jobs: pd.DataFrame, left_out: str) -> None:
    """What the middle one of these jobs gave and took; `left_out` says which jobs are not among them."""
    try:
        usual = tallies.usual_of(jobs)
    except NotEnoughData as refusal:
        frame.instead(str(refusal), left_out)
        return
    if len(jobs) == 1:
        kilos, minutes = float(usual.magnetite_kg.p50), float(usual.site_minutes.p50)
        frame.answer(
            f"1 job: it gave {wording.kilograms(kilos)} of magnetite in {wording.duration(minutes)} on site.", left_out
        )
        return
    frame.answer(
        f"{wording.count(len(jobs), 'job')}: the middle one gave {wording.kilograms_range(usual.magnetite_kg)} "
        f"of magnetite in {wording.duration_range(usual.site_minutes)} on site.",
        f"8 in 10 lie in the range in brackets. {left_out}",
    )


def job_labels(jobs: pd.DataFrame) -> list[str]:
    """Each job of a list in one line: id, day, emitters, kilograms."""
    facts = (jobs[name].tolist() for name in ("job_id", "visit_date", "emitter_count", "magnetite_kg"))
    return [
        f"{job} · {wording.day(day)}{'' if wording.is_missing(emitters) else f' · {int(emitters)} emitters'} · "
        f"{wording.kilograms(kilos)}"
        for job, day, emitters, kilos in zip(*facts, strict=True)
    ]


def choose_job(jobs: pd.DataFrame, key: str = "book") -> pd.Series:
    """The job that the page is about: the newest unless another is chosen; of many, a part is found by its number."""
    listed, where = jobs, st.container()
    if len(jobs) > MOST_LISTED:
        left, where = st.columns([1, 2], vertical_alignment="bottom")
        part = left.text_input("Find a job by its number", key=f"{key}_find", placeholder="part of the number")
        found = jobs["job_id"].str.contains(part or "", regex=False)
        listed = jobs[found.to_numpy()].head(MOST_LISTED)
        if listed.empty:
            frame.small(f"No job's number holds “{literal(part)}”; the newest are listed.")
            listed = jobs.head(MOST_LISTED)
    listed = listed.set_index(listed["firm_id"] + "/" + listed["job_id"])
    labels = dict(zip(listed.index, job_labels(listed), strict=True))
    if st.session_state.get(f"{key}_job") not in labels:  # another part was looked for: its first job is drawn
        st.session_state.pop(f"{key}_job", None)
    chosen = where.selectbox(
        "Job", list(labels), format_func=labels.__getitem__, key=f"{key}_job", filter_mode="contains"
    )
    return listed.loc[chosen] if chosen in labels else listed.iloc[0]


def browse_rows(jobs: pd.DataFrame) -> pd.DataFrame:
    """The list of jobs to browse and save, newest first; `MOST_BROWSED` at most."""
    jobs = jobs.head(MOST_BROWSED)
    return pd.DataFrame(
        {
            "Job": jobs["job_id"],
            "Visit": jobs["visit_date"].dt.date,
            "System": jobs["system_type"].map(wording.plain),
            "Emitters": jobs["emitter_count"],
            "Volume [L]": jobs["system_volume_l"].round(0),
            "Magnetite, dry [kg]": jobs["magnetite_kg"].round(3),
            "Other debris, dry [kg]": jobs["non_magnetic_kg"].round(3),
            "On site [h]": (jobs["site_minutes"] / wording.MINUTES_PER_HOUR).round(2),
            "Debris callback in 365 days": jobs["has_debris_callback_365"].map(yes_no),
        }
    )


def yes_no(value: object) -> str:
    """`yes`, `no`, or `not known`."""
    return "not known" if value is None or value is pd.NA or value != value else "yes" if value else "no"


def draw_story(build: str, job: pd.Series) -> None:
    """One job from survey to follow-up: what was found, how it was flushed, what came back."""
    firm_id, job_id = job["firm_id"], job["job_id"]
    st.header(f"The story of job {literal(job_id)}", anchor=False)
    st.markdown(f"On {wording.day(job['visit_date'])} it gave {_gave(job)}{_in_minutes(job)}. {_follow_up(build, job)}")
    with st.expander("What the survey and the plan said", icon=":material/home_repair_service:"):
        st.dataframe(survey_rows(job), hide_index=True, alt=f"Survey and plan of job {job_id}", key="book_survey")
    _draw_readings((build, firm_id, job_id), data.of_job(build, "readings", firm_id, job_id))
    sentences = record_warnings(data.warnings_of(build, firm_id, job_id))
    if sentences:
        st.warning("**Worth a look**\n\n" + "\n".join(f"- {each}" for each in sentences), icon=":material/error:")


def survey_rows(job: pd.Series) -> pd.DataFrame:
    """Survey and plan of one job in the contract's words; what was not written down is left out."""
    meanings = {**{column.name: column for column in JOB_LOG["jobs"].columns}}
    rows = []
    for name in SURVEY:
        value = job.get(name)
        if value is None or value is pd.NA or value is pd.NaT or value != value or value == "":
            continue
        column = meanings.get(name)
        unit = column.unit if column else {"system_volume_l": "L"}.get(name, "")
        words = column.meaning if column else {"system_volume_l": "System volume, middle"}.get(name, "Emitters")
        rows.append({"Asked": words, "Found": f"{_said(value)} {'' if unit in ('year', 'count') else unit}".strip()})
    return pd.DataFrame(rows, columns=["Asked", "Found"])


def record_warnings(warnings: list[dict[str, Any]]) -> list[str]:
    """Rows of one job that count but deserve a look, in plain words; the same thing said of many rows once.

    `warnings` as `data.warnings_of` gives them.
    """
    alike: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for each in warnings:
        alike.setdefault((each["table"], each["column"], each["reason"]), []).append(each)
    sentences = []
    for found in alike.values():
        others = f" And {wording.count(len(found) - 1, 'row')} more like it." if len(found) > 1 else ""
        sentences.append(f"{_in_words(found[0])}{others}")
    return sentences


def _in_words(warning: dict[str, Any]) -> str:
    """A warning without names of columns: the one it is about by its meaning, others as words."""
    sentence, name = str(warning["sentence"]), warning["column"]
    if name:
        column = JOB_LOG[warning["table"]].column(name)
        meaning = column.meaning.split(";")[0]
        unit = "" if column.unit in ("", "count", "year") or meaning.endswith(column.unit) else f" {column.unit}"
        said = f"{meaning[0].lower()}{meaning[1:]} {warning['value']}{unit}"
        sentence = sentence.replace(f"{name} {warning['value']}", said, 1)
    names = sorted({name for logged in JOB_LOG.values() for name in logged.names if "_" in name}, key=len, reverse=True)
    for other in names:
        sentence = re.sub(rf"\b{other}\b", wording.plain(other), sentence)
    sentence = re.sub(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d)", r"\1 \2", sentence)
    return literal(sentence)


def _said(value: object) -> str:
    if isinstance(value, pd.Timestamp):
        return wording.day(value)
    if isinstance(value, str):
        return wording.plain(value)
    if value is True or value is False or type(value).__name__ == "bool":
        return yes_no(value)
    return f"{float(str(value)):g}" if float(str(value)) < 1000 else f"{float(str(value)):.0f}"


def _in_minutes(job: pd.Series) -> str:
    if wording.is_missing(job["flush_minutes"]):
        return "; the log does not say in how many minutes of flushing"
    return f" in {wording.duration(job['flush_minutes'])} of flushing"


def _gave(job: pd.Series) -> str:
    """What one job gave, in words; what was never weighed is not called a mass."""
    magnetite = f"**{wording.kilograms(job['magnetite_kg'])}** of magnetite"
    if wording.is_missing(job["magnetite_kg"]):
        magnetite = "magnetite that was not weighed"
    if wording.is_missing(job["non_magnetic_kg"]):
        return f"{magnetite} (other debris was not weighed)"
    return f"{magnetite} and {wording.kilograms(job['non_magnetic_kg'])} of other debris"


def _follow_up(build: str, job: pd.Series) -> str:
    calls = data.of_job(build, "callbacks", job["firm_id"], job["job_id"])
    if len(calls):
        rows = calls.to_dict("records")
        visits = [f"{wording.day(row['called_back_on'])} ({wording.plain(row['cause'])})" for row in rows]
        return f"Called back on {wording.listed(visits)}."
    days = job["followed_days"]
    if wording.is_missing(days):
        return "The firm has handed in no callbacks, so nobody knows whether it was called back."
    return f"No callback in the {wording.count(int(days), 'day')} it was followed."


def _draw_readings(of: tuple[str, str, str], readings: pd.DataFrame) -> None:
    """Readings of one job, drawn once for all who look at it; `of`: build, firm, job."""
    look = frame.current_look()
    known = [reading for reading in READINGS if reading[0] in readings and readings[reading[0]].notna().any()]
    has_heat = "flow_temp_c" in readings and readings[["flow_temp_c", "return_temp_c"]].notna().any(axis=None)
    if not known and not has_heat:
        frame.instead("No readings were taken on this job.", "Flow and heat every quarter hour show what worked.")
        return
    columns = st.columns(2)
    if has_heat:
        with columns[0]:
            frame.chart(
                kept(("heat", *of, look), lambda: figures.heat_figure(readings, look)),
                key="book_heat",
                file_name="temperatures.csv",
                alt=figures.readings_alt(readings, "flow_temp_c", "Flow temperature", "°C"),
                rows=readings[["read_at", "flow_temp_c", "return_temp_c"]],
            )
    for place, (column, title, unit, hue) in enumerate(known[:3], start=int(has_heat)):
        with columns[place % 2]:
            frame.chart(
                kept(
                    ("readings", *of, column, look),
                    partial(figures.readings_figure, readings, column, f"{title} [{unit}]", getattr(look, hue), look),
                ),
                key=f"book_{column}",
                alt=figures.readings_alt(readings, column, title, unit),
                rows=readings[["read_at", column]].dropna(),
                file_name=f"{column}.csv",
            )
