"""Saving what is entered on site: one place that says "saved" only after the entry is on disk, and once only."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import uuid4

import streamlit as st

from dashboard import data
from dashboard.app_parts.on_site.phone import phone
from dashboard.words import wording
from dashboard.words.entry_words import in_words
from dashboard.words.literal import literal
from pipeline.contract.findings import SludgebookError

ENTRY, SAID, OPEN, SAVED_AT = "site_entry", "site_said", "site_open", "site_saved_at"
TURNED = "site_turned"
"""Set when a job was begun, finished or opened again: the page is another one, to be read from its top."""
DOUBLE_TAP_S = 2.0
"""A second tap on a button comes within this time of the first."""


@dataclass(frozen=True, slots=True)
class Early:
    """An entry that was not saved because it happened before the flow started, as it stands."""

    name: str
    kind: Any
    of: Mapping[str, Any]
    at: datetime


@dataclass(frozen=True, slots=True)
class Said:
    """What is said about the last thing entered, and whether it was saved."""

    sentence: str
    is_saved: bool
    early: Early | None = None


def save(name: str, kind: Any, of: Mapping[str, Any], *, ago_min: float = 0.0, words: str = "") -> bool:
    """Save one entry of the open job; whether it is on disk. `draw_said` shows `words` about it, else its own."""
    entry_id = st.session_state.setdefault(ENTRY, uuid4().hex)
    try:
        event = data.save(name, kind, of, entry_id, phone(), ago_min=ago_min)
    except SludgebookError as problem:
        at = getattr(problem, "at", None)  # only of an entry from before the start of the flow
        early = Early(name, kind, of, at) if isinstance(at, datetime) else None
        st.session_state[SAID] = Said(problem.sentence, is_saved=False, early=early)
        return False
    st.session_state[ENTRY] = uuid4().hex  # the next entry is another one
    note_saved(kind)
    st.session_state[SAID] = Said(f"Saved {wording.clock(event.saved_at)}: {words or in_words(event)}", is_saved=True)
    st.session_state[OPEN] = None
    if kind in ("start", "finish", "reopen"):
        st.session_state[TURNED] = True
    return True


def note_saved(kind: str) -> None:
    """Remember what was saved and when: `is_double_tap` asks."""
    st.session_state[SAVED_AT] = (kind, time.monotonic())


def is_double_tap(kind: str) -> bool:
    """Whether an entry of this kind was saved a moment ago: the tap that comes then is the same one again. One of
    another kind is a quick hand."""
    saved, at = st.session_state.get(SAVED_AT) or ("", 0.0)
    return saved == kind and time.monotonic() - float(at) < DOUBLE_TAP_S


def draw_said() -> None:
    """The words about the last entry, where the eye is after the tap."""
    said: Said | None = st.session_state.get(SAID)
    if said is None:
        return
    if said.is_saved:
        st.success(literal(said.sentence), icon=":material/check_circle:")
    else:
        st.error(literal(said.sentence), icon=":material/error:")
    if said.early is not None:
        st.button(
            f"The flow started at {_whole_minute(said.early.at):%H:%M}: move it and save",
            key="site_move_start",
            width="stretch",
            on_click=_move_start,
            args=(said.early,),
        )


def _whole_minute(at: datetime) -> datetime:
    return at.replace(second=0, microsecond=0)


def _move_start(early: Early) -> None:
    """Move the start of the flow to an entry from before it, then save that entry at its own time."""
    if save(early.name, "start_moved", {"flush_started_at": _whole_minute(early.at)}):
        save(early.name, early.kind, early.of, ago_min=(datetime.now() - early.at).total_seconds() / 60)
