"""The walk over the emitters: each gets its room and kind; what nobody knows stays empty."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard.app_parts.on_site.saving import is_double_tap, save
from dashboard.words import wording
from dashboard.words.entry_words import place
from dashboard.words.literal import literal
from pipeline.contract import JOB_LOG

if TYPE_CHECKING:
    from dashboard.data import SiteJob

ROOM, KIND = "site_room", "site_kind"


def draw_rooms(job: SiteJob) -> None:
    """Behind a line to open: one emitter at a time is named, moved up, or dropped; another one is added."""
    with st.expander("Emitters, room by room", icon=":material/meeting_room:", key="site_rooms"):
        rows = [dict(row) for row in job.emitters]
        numbers = [int(row["emitter_no"]) for row in rows]
        if numbers:
            chosen = st.selectbox(
                "Emitter",
                numbers,
                key="site_walked",
                filter_mode=None,
                format_func=lambda number: literal(place(number, job.room(number))),
            )
            _draw_one(job.name, rows, numbers.index(chosen) if chosen in numbers else 0)
        st.button(
            "Add an emitter",
            key="site_add_emitter",
            width="stretch",
            icon=":material/add:",
            on_click=_keep,
            args=(job.name, [*rows, {"emitter_no": max(job.emitter_numbers, default=0) + 1}]),
        )


def _draw_one(name: str, rows: list[dict[str, Any]], at: int) -> None:
    row = rows[at]
    number = row["emitter_no"]
    room = st.text_input("Room", row.get("room") or "", key=f"{ROOM}_{number}", max_chars=40, placeholder="Not known")
    kinds = JOB_LOG["emitters"].column("emitter_kind").choices
    known = kinds.index(row["emitter_kind"]) if row.get("emitter_kind") in kinds else None
    kind = st.selectbox(
        "Kind",
        kinds,
        known,
        key=f"{KIND}_{number}",
        format_func=wording.plain,
        placeholder="Not known",
        filter_mode=None,
    )
    said = {"room": (room or "").strip() or None, "emitter_kind": kind, **_surfaces(row)}
    mended = {name: value for name, value in {**row, **said}.items() if value is not None}
    earlier = [*rows[: max(at - 1, 0)], row, *rows[max(at - 1, 0) : at], *rows[at + 1 :]]
    left, middle, right = st.columns(3, gap="small")
    for column, words, key, after in (
        (left, "Save", "site_save_room", [*rows[:at], mended, *rows[at + 1 :]]),
        (middle, "Earlier", "site_room_earlier", earlier),
        (right, "Drop", "site_drop_emitter", [*rows[:at], *rows[at + 1 :]]),
    ):
        column.button(words, key=key, width="stretch", disabled=after == rows, on_click=_keep, args=(name, after))


def _surfaces(row: dict[str, Any]) -> dict[str, float | None]:
    """Surface temperatures, heat on: what shows the client that a cold bottom has become warm."""
    felt: dict[str, float | None] = {}
    for when in ("before", "after"):
        for column, end in zip(st.columns(2, gap="small"), ("top", "bottom"), strict=True):
            name = f"{end}_{when}_c"
            allowed = JOB_LOG["emitters"].column(name)
            felt[name] = column.number_input(
                f"{end.capitalize()}, {when} [°C]",
                float(allowed.low or 0),
                float(allowed.high or 0),
                None if row.get(name) is None else float(row[name]),
                1.0,
                key=f"site_{name}_{row['emitter_no']}",
                format="%g",
                placeholder="–",
            )
    return felt


def _keep(name: str, rows: list[dict[str, Any]]) -> None:
    if not is_double_tap("emitters"):
        save(name, "emitters", {"emitters": rows})
