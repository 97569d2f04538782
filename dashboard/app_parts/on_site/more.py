"""Less frequent entries on site: heat and shaking, a note, an instrument's file; and the list of what was entered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.app_parts.on_site.instrument_file import draw_file
from dashboard.app_parts.on_site.pictures import draw_photographs
from dashboard.app_parts.on_site.rooms import draw_rooms
from dashboard.app_parts.on_site.saving import is_double_tap, save
from dashboard.words import wording
from dashboard.words.entry_words import in_words
from pipeline.contract import JOB_LOG

if TYPE_CHECKING:
    from dashboard.data import SiteJob

WAYS = {
    "heat_source": "Heat now",
    "agitation": "Rust shaken by",
    "isolation": "Flow goes through",
    "connection": "Hoses joined at",
}
"""What may change in the course of a job and is chosen from a list."""
HALF, REVERSED, NOTE = "site_half", "site_reversed", "site_note"


def draw_more(job: SiteJob) -> None:
    """Each behind a line to open."""
    with st.expander("How it is flushed, or a note", icon=":material/local_fire_department:", key="site_ways"):
        for name, label in WAYS.items():
            st.selectbox(
                label,
                JOB_LOG["jobs"].column(name).choices,
                None,
                key=f"site_way_{name}",
                format_func=wording.plain,
                placeholder="As before",
                filter_mode=None,
            )
        st.number_input("Emitters half-drained so far", 0, 60, None, 1, key=HALF, placeholder="As before")
        st.checkbox("Flow is reversed now", key=REVERSED)
        st.text_input("Note", key=NOTE, max_chars=200)
        st.button("Save this", key="site_save_change", width="stretch", on_click=_save_change, args=(job.name,))
    draw_rooms(job)
    draw_photographs(job)
    draw_file(job.name)
    with st.expander(f"Everything entered ({len(job.events)})", icon=":material/list:"):
        st.dataframe(_rows(job), hide_index=True, alt="Every entry of this job, newest first", key="site_entries")


def _save_change(name: str) -> None:
    state = st.session_state
    said = {each: state.get(f"site_way_{each}") for each in WAYS}
    said |= {"half_drained_emitters": state.get(HALF), "flow_reversed": state.get(REVERSED) or None}
    said["note"] = (state.get(NOTE) or "").strip() or None
    known = {each: value for each, value in said.items() if value is not None}
    if (known or not is_double_tap("change")) and save(name, "change", known):
        for key in (*(f"site_way_{each}" for each in WAYS), HALF):
            state[key] = None
        state[REVERSED] = False
        state[NOTE] = ""


def _rows(job: SiteJob) -> pd.DataFrame:
    """Every entry, newest first, as a person reads it."""
    return pd.DataFrame(
        [
            {
                "Time": wording.clock(event.at, job.started_at),
                "Entry": f"{wording.plain(event.kind)}: {in_words(event)}",
                "Counts": "taken back" if event.is_undone else "yes",
                "Phone": event.device,
            }
            for event in reversed(job.events)
        ]
    )
