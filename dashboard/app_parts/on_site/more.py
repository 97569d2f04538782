"""Less frequent entries on site: heat and shaking, a note, an instrument's file; and the list of what was entered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.app_parts.on_site.instrument_file import draw_file
from dashboard.app_parts.on_site.saving import in_words, is_double_tap, save
from dashboard.words import wording
from pipeline.contract import JOB_LOG

if TYPE_CHECKING:
    from dashboard.data import SiteJob

HEAT, SHAKEN, NOTE = "site_heat", "site_shaken", "site_note"


def draw_more(job: SiteJob) -> None:
    """Each behind a line to open."""
    with st.expander("Heat, shaking or a note", icon=":material/local_fire_department:"):
        columns = JOB_LOG["jobs"]
        st.selectbox(
            "Heat now",
            columns.column("heat_source").choices,
            None,
            key=HEAT,
            format_func=wording.plain,
            placeholder="As before",
            filter_mode=None,
        )
        st.selectbox(
            "Rust shaken by",
            columns.column("agitation").choices,
            None,
            key=SHAKEN,
            format_func=wording.plain,
            placeholder="As before",
            filter_mode=None,
        )
        st.text_input("Note", key=NOTE, max_chars=200)
        st.button("Save this", key="site_save_change", width="stretch", on_click=_save_change, args=(job.name,))
    draw_file(job.name)
    with st.expander(f"Everything entered ({len(job.events)})", icon=":material/list:"):
        st.dataframe(_rows(job), hide_index=True, alt="Every entry of this job, newest first", key="site_entries")


def _save_change(name: str) -> None:
    state = st.session_state
    said = {"heat_source": state.get(HEAT), "agitation": state.get(SHAKEN), "note": (state.get(NOTE) or "").strip()}
    known = {each: value for each, value in said.items() if value}
    if (known or not is_double_tap()) and save(name, "change", known):
        state[HEAT] = state[SHAKEN] = None
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
