"""The survey form of "Price a job": short questions drawn from the contract, everything optional but one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.survey import EMITTER_QUESTIONS, MOST_EMITTERS, Survey
from dashboard.words import wording
from pipeline.contract import JOB_LOG, Column

HOUSE = {
    "property_kind": "Property",
    "floor_count": "Storeys served",
    "pipe_layout": "Pipework",
    "boiler_kind": "Heat source",
    "boiler_output_kw": "Its output",
    "main_bore_mm": "Mains, outside diameter",
    "aluminium_exchanger": "Aluminium exchanger",
    "buffer_l": "Buffer, store, coils",
}
HISTORY = {
    "install_year": "Emitters fitted, year",
    "last_cleaned_year": "Last cleaned, year",
    "topups_per_year": "Top-ups a year",
    "inhibitor_at_survey": "Inhibitor in the water",
    "filter_at_survey": "Magnetic filter fitted",
    "known_building_debris": "Sand or cement suspected",
    "antifreeze_at_survey": "Antifreeze in the water",
}
WATER = {
    "survey_ph": "pH",
    "survey_conductivity_us_cm": "Conductivity",
    "mains_conductivity_us_cm": "Conductivity, mains",
    "survey_turbidity_ntu": "Turbidity",
    "survey_iron_mg_l": "Iron",
}
PLAN = {
    "engineer_id": "Who leads",
    "crew_size": "People on site",
    "heat_source": "Heat while flushing",
    "heater_kw": "Inline heater",
    "connection": "Where the hoses join",
    "machine_max_flow_l_min": "Machine, most flow",
    "isolation": "How flow is focused",
    "agitation": "How rust is shaken",
    "predosed_on": "Cleaner put in on",
    "predose_label_ratio": "Dose / label dose",
    "cleaner_suits_aluminium": "Label allows aluminium",
    "machine_open_tank": "Machine's tank is open",
}
GROUPS = (
    ("House and pipework", HOUSE),
    ("Age and history", HISTORY),
    ("Water sample", WATER),
    ("How it will be flushed", PLAN),
)
BORES_MM = ("10", "15", "22", "28")
WORDLESS_UNITS = ("", "count", "year", "1/year", "pH", "ratio")
"""Units that the question's own words already say."""
NOT_KNOWN = "Not known"
EMPTY_NUMBER = "–"
"""Stands in an empty number field; the words would not fit beside its buttons."""


def survey_form(firms: Sequence[str] = (), usual_firm: str = "") -> tuple[bool, Survey, date]:
    """Draw the form. Returns whether it was handed in, the survey, and the day of the visit.

    Of several `firms` it asks which one is to do the job, `usual_firm` unless it is none of them.
    """
    with st.form("price_form", border=False):
        firm_id = _firm(firms, usual_firm)
        system_type = st.segmented_control(
            "System",
            JOB_LOG["jobs"].column("system_type").choices,
            format_func=wording.plain,
            key="price_system_type",
            help="Open-vented has a feed tank above; sealed has a pressure gauge.",
        )
        counts = _emitter_counts()
        job: dict[str, Any] = {"firm_id": firm_id, "system_type": system_type}
        for title, questions in GROUPS:
            with st.expander(title):
                job |= _answers(questions)
        with st.expander("Emitters and pipes one by one"):
            lines, pipes = _emitter_lines(), _pipe_lengths()
        frame.caution(
            "Old lagging may hold asbestos: leave it alone. An unvented cylinder, its valves and its discharge are for "
            "qualified people. Local codes and licensed practice come first."
        )
        on = st.date_input("Day of the visit", value="today", key="price_visit_date", format="YYYY-MM-DD")
        handed_in = st.form_submit_button("Price this job", type="primary", width="stretch", key="price_submit")
    return handed_in, Survey(job, **counts, lines=tuple(lines), pipe_lengths_m=pipes), on


def _firm(firms: Sequence[str], usual: str) -> str | None:
    if len(firms) < 2:
        return None
    place = firms.index(usual) if usual in firms else None
    help_text = "Its own jobs set ranges and callbacks where they are enough. `firm_id` in firm.toml fills this in."
    return st.selectbox("Firm", firms, index=place, key="price_firm", help=help_text, placeholder="None of these")


def _emitter_counts() -> dict[str, Any]:
    st.markdown("**Emitters**, how many of each kind")
    counts = {
        kind: int(place.number_input(words, 0, MOST_EMITTERS, 0, 1, key=f"price_count_{kind}"))
        for place, (kind, words) in _two_by_two(EMITTER_QUESTIONS)
    }
    st.markdown("**Of these**, how many are")
    marks = {"cold": "Cold at the bottom", "upstairs": "Upstairs", "long": "1.6 m or longer"}
    answers = {
        name: place.number_input(words, 0, MOST_EMITTERS, None, 1, key=f"price_{name}", placeholder=EMPTY_NUMBER)
        for place, (name, words) in _two_by_two(marks)
    }
    return {"counts": counts, **answers}


def _two_by_two(questions: Mapping[str, str]) -> Iterator[tuple[Any, tuple[str, str]]]:
    """Each question with its place, two in a row on a desk; on a phone they keep their order."""
    items = list(questions.items())
    for first in range(0, len(items), 2):
        yield from zip(st.columns(2), items[first : first + 2], strict=False)


def _answers(questions: dict[str, str]) -> dict[str, Any]:
    """One answer a question, None where not known, the widget chosen by the column's kind."""
    answers = {}
    for place, (name, words) in _two_by_two(questions):
        with place:
            answers[name] = _ask(JOB_LOG["jobs"].column(name), words)
    return answers


def _ask(column: Column, words: str) -> Any:
    label = words if column.unit in WORDLESS_UNITS else f"{words} [{column.unit}]"
    key = f"price_{column.name}"
    if column.kind == "choice":
        return _pick(label, column.choices, key, column.meaning)
    if column.kind == "yes_no":
        return {"yes": True, "no": False}.get(_pick(label, ("yes", "no"), key, column.meaning) or "")
    if column.kind == "text":
        help_text = f"{column.meaning}, as in the log: minutes go with that engineer's past jobs."
        return st.text_input(label, key=key, help=help_text, placeholder=NOT_KNOWN).strip() or None
    if column.kind == "date":
        return st.date_input(label, value=None, key=key, help=column.meaning, format="YYYY-MM-DD")
    cast = int if column.kind == "integer" else float
    low, high = column.low, column.high if column.high is not None else 2100
    return st.number_input(
        label,
        cast(low) if low is not None else None,
        cast(high),
        None,
        key=key,
        help=column.meaning,
        placeholder=EMPTY_NUMBER,
        step=cast(1),
        format=None if cast is int else "%g",
    )


def _pick(label: str, choices: Sequence[str], key: str, meaning: str) -> str | None:
    return st.selectbox(
        label, choices, index=None, format_func=wording.plain, key=key, help=meaning, placeholder=NOT_KNOWN
    )


def _emitter_lines() -> list[dict[str, Any]]:
    frame.small("One line an emitter. Lines replace the numbers above.")
    table = JOB_LOG["emitters"]
    columns = ("room", "emitter_kind", "height_mm", "length_mm", "floor_level", "cold_at_survey")
    empty = pd.DataFrame({name: pd.Series(dtype="object") for name in columns})
    config = {
        "room": st.column_config.TextColumn("Room", max_chars=40),
        "emitter_kind": st.column_config.SelectboxColumn("Kind", options=list(table.column("emitter_kind").choices)),
        "height_mm": _number_column("Height [mm]", table.column("height_mm")),
        "length_mm": _number_column("Length [mm]", table.column("length_mm")),
        "floor_level": _number_column("Floor", table.column("floor_level")),
        "cold_at_survey": st.column_config.CheckboxColumn("Cold"),
    }
    edited = st.data_editor(
        empty,
        num_rows="dynamic",
        hide_index=True,
        column_config=config,
        key="price_lines",
        placeholder="–",
        alt="Emitters one by one: room, kind, height, length, floor, cold or not",
    )
    whole = edited.astype(object).where(edited.notna(), None)
    rows = [dict(zip(columns, values, strict=True)) for values in whole[list(columns)].itertuples(index=False)]
    return [row for row in rows if any(value is not None for value in row.values())]


def _number_column(words: str, column: Column) -> Any:
    return st.column_config.NumberColumn(words, min_value=column.low, max_value=column.high, step=1)


def _pipe_lengths() -> dict[float, float]:
    frame.small("Pipe by outside diameter, metres of run; leave at 0 if not measured.")
    return {
        float(bore): float(place.number_input(words, 0.0, 500.0, 0.0, 1.0, key=f"price_pipe_{bore}", format="%g"))
        for place, (bore, words) in _two_by_two({bore: f"{bore} mm [m]" for bore in BORES_MM})
    }
