"""What is heard of a job after it, noted where the job is looked at: a return visit, or that all was well."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.words import wording
from dashboard.words.entry_words import place
from dashboard.words.literal import literal
from pipeline.contract import JOB_LOG
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    import pandas as pd

SAID = "after_said"
DEBRIS = {"yes": True, "no": False, "not known": None}


def draw_after(job: pd.Series) -> None:
    """Two ways to note what came after a job; both count in the audit at once."""
    firm_id, job_id = str(job["firm_id"]), str(job["job_id"])
    first, today = job["visit_date"].date(), date.today()
    said, is_noted = st.session_state.pop(SAID, ("", True))
    with st.expander("What came after", icon=":material/phone_callback:", key="book_after", on_change="rerun"):
        if said:
            (st.success if is_noted else st.error)(literal(said))
        day = st.date_input("On", today, first, today, key=f"after_day_{job_id}")
        chosen = day or today
        st.button(
            "Asked that day: no trouble",
            key="after_well",
            width="stretch",
            on_click=_note,
            args=(f"{job_id}: no trouble to {chosen:%d/%m/%Y}.", data.note_all_well, firm_id, job_id, chosen),
        )
        _draw_return_visit(firm_id, job_id, chosen)


def _draw_return_visit(firm_id: str, job_id: str, on: date) -> None:
    """A return visit on that day: its cause, the emitter, whether debris was behind it."""
    frame.small("Or they called you back:")
    causes = JOB_LOG["callbacks"].column("cause").choices
    cause = st.selectbox("Cause found", causes, None, key="after_cause", format_func=wording.plain, filter_mode=None)
    about = _about(firm_id, job_id)
    debris = st.segmented_control("Sludge or debris was the cause", list(DEBRIS), default="not known", key="after_by")
    said = f"{job_id}: called back on {on:%d/%m/%Y}, {wording.plain(cause)}."
    visit = (firm_id, job_id, on, cause, DEBRIS.get(debris or ""), about)
    st.button(
        "Note this return visit",
        key="after_visit",
        width="stretch",
        disabled=cause is None,
        on_click=_note,
        args=(said, data.note_return_visit, *visit),
    )


def _about(firm_id: str, job_id: str) -> int | None:
    """The emitter that a return visit was about; None for the whole system."""
    rooms = data.emitters_called_about(data.shelf().build, firm_id, job_id)
    return st.selectbox(
        "Which emitter",
        list(rooms),
        None,
        key=f"after_emitter_{job_id}",
        format_func=lambda number: literal(place(number, rooms[number])),
        placeholder="Whole system or not known",
        filter_mode=None,
    )


def _note(words: str, note: Callable[..., None], *given: object) -> None:
    try:
        note(*given)
    except SludgebookError as problem:
        st.session_state[SAID] = (problem.sentence, False)
    else:
        st.session_state[SAID] = (f"Noted. {words}", True)
