"""Weighings typed in on site: one button adds one weighing, a table corrects them. Big enough for wet hands."""

from __future__ import annotations

from datetime import datetime, time
from typing import TYPE_CHECKING, Any

import pandas as pd
import streamlit as st

if TYPE_CHECKING:
    from models.catch.frames import HandWeighing

ROWS = "watch_rows"
VERSION = "watch_rows_version"
COLUMNS = {"minutes": "float64", "emitter": "Int64", "grams": "float64", "weighed": "object", "trap": "object"}
TRAPS = ("magnet", "strainer", "machine_base")


def weighings_by_hand() -> tuple[list[HandWeighing], datetime]:
    """Draw the entry form and the table; returns the weighings as they stand and the start of the flush."""
    st.session_state.setdefault(ROWS, empty_rows())
    st.session_state.setdefault(VERSION, 0)
    start = st.time_input("Flow started at", time(9, 0), key="watch_started", step=300)
    _entry_form()
    with st.expander("Correct the weighings", icon=":material/edit:", expanded=False):
        edited = st.data_editor(
            st.session_state[ROWS], num_rows="dynamic", hide_index=True, column_config=_columns(), placeholder="–",
            key=f"watch_editor_{st.session_state[VERSION]}",
            alt="Weighings so far: minutes, emitter, grams, wet or dry, trap",
        )  # fmt: skip
    return to_weighings(edited), datetime.combine(datetime.now().date(), start)


def empty_rows() -> pd.DataFrame:
    """No weighings yet, in the columns of the table."""
    return pd.DataFrame({name: pd.Series(dtype=dtype) for name, dtype in COLUMNS.items()})


def to_weighings(rows: pd.DataFrame) -> list[HandWeighing]:
    """Rows of the table as the catch model takes them; a row without minutes or grams is not yet a weighing."""
    from models.catch.frames import HandWeighing

    whole = rows.dropna(subset=["minutes", "grams"])
    return [
        HandWeighing(
            minutes=float(row["minutes"]),
            emitter_no=None if pd.isna(row["emitter"]) else int(row["emitter"]),
            grams=float(row["grams"]),
            weighed="wet" if pd.isna(row["weighed"]) else str(row["weighed"]),
            trap="magnet" if pd.isna(row["trap"]) else str(row["trap"]),
        )
        for row in whole.to_dict("records")
    ]


def _entry_form() -> None:
    with st.form("watch_entry", clear_on_submit=True):
        left, right = st.columns(2)
        minutes = left.number_input(
            "Minutes since the start", 0.0, 7200.0, None, 1.0, key="watch_minutes", format="%g", placeholder="–"
        )
        grams = right.number_input(
            "Mass [g]", 0.0, 20000.0, None, 10.0, key="watch_grams", format="%g", placeholder="–"
        )
        left, right = st.columns(2)
        emitter = left.number_input(
            "Emitter, empty: whole system", 1, 200, None, 1, key="watch_emitter", placeholder="–"
        )
        weighed = right.segmented_control("Weighed", ["wet", "dry"], default="wet", key="watch_weighed", required=True)
        if st.form_submit_button("Add this weighing", type="primary", width="stretch", key="watch_add"):
            _add(minutes, emitter, grams, weighed or "wet")


def _add(minutes: float | None, emitter: int | None, grams: float | None, weighed: str) -> None:
    if minutes is None or grams is None:
        st.error("A weighing needs its minutes and its grams.")
        return
    row = pd.DataFrame([{"minutes": minutes, "emitter": emitter, "grams": grams, "weighed": weighed, "trap": "magnet"}])
    rows = pd.concat([_corrected(), row.astype(COLUMNS)], ignore_index=True)
    st.session_state[ROWS] = rows.sort_values("minutes", ignore_index=True)
    st.session_state[VERSION] += 1


def _corrected() -> pd.DataFrame:
    """The rows with the corrections made in the table since they were last added to."""
    rows: pd.DataFrame = st.session_state[ROWS].copy()
    changes = st.session_state.get(f"watch_editor_{st.session_state[VERSION]}") or {}
    for place, values in changes.get("edited_rows", {}).items():
        for name, value in values.items():
            rows.loc[int(place), name] = value
    rows = rows.drop(index=[int(place) for place in changes.get("deleted_rows", [])])
    added = pd.DataFrame(changes.get("added_rows", []), columns=list(COLUMNS))
    return pd.concat([rows, added.astype(COLUMNS)], ignore_index=True) if len(added) else rows


def _columns() -> dict[str, Any]:
    return {
        "minutes": st.column_config.NumberColumn("Minutes", min_value=0.0, required=True, format="%g"),
        "emitter": st.column_config.NumberColumn("Emitter", min_value=1, max_value=200, step=1),
        "grams": st.column_config.NumberColumn("Mass [g]", min_value=0.0, max_value=2e4, required=True, format="%g"),
        "weighed": st.column_config.SelectboxColumn("Weighed", options=["wet", "dry"], default="wet"),
        "trap": st.column_config.SelectboxColumn("Trap", options=list(TRAPS), default="magnet"),
    }
