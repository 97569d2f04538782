"""Saving what is entered on site: one place that says "saved" only after the entry is on disk, and once only."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import streamlit as st

from dashboard import data
from dashboard.app_parts.on_site.phone import phone
from dashboard.words import wording
from dashboard.words.literal import literal
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    from dashboard.data import SiteEvent

ENTRY, SAID, OPEN, SAVED_AT = "site_entry", "site_said", "site_open", "site_saved_at"
TURNED = "site_turned"
"""Set when a job was begun, finished or opened again: the page is another one, to be read from its top."""
DOUBLE_TAP_S = 2.0
"""A second tap on a button comes within this time of the first."""


@dataclass(frozen=True, slots=True)
class Said:
    """What is said about the last thing entered, and whether it was saved."""

    sentence: str
    is_saved: bool


def save(name: str, kind: Any, of: Mapping[str, Any], *, ago_min: float = 0.0, words: str = "") -> bool:
    """Save one entry of the open job; whether it is on disk. `draw_said` shows `words` about it, else its own."""
    entry_id = st.session_state.setdefault(ENTRY, uuid4().hex)
    try:
        event = data.save(name, kind, of, entry_id, phone(), ago_min=ago_min)
    except SludgebookError as problem:
        st.session_state[SAID] = Said(problem.sentence, is_saved=False)
        return False
    st.session_state[ENTRY] = uuid4().hex  # the next entry is another one
    st.session_state[SAVED_AT] = time.monotonic()
    st.session_state[SAID] = Said(f"Saved {wording.clock(event.saved_at)}: {words or in_words(event)}", is_saved=True)
    st.session_state[OPEN] = None
    if kind in ("start", "finish", "reopen"):
        st.session_state[TURNED] = True
    return True


def is_double_tap() -> bool:
    """Whether something was saved a moment ago: the tap that comes then is the same one again."""
    saved_at = st.session_state.get(SAVED_AT)
    return saved_at is not None and time.monotonic() - float(saved_at) < DOUBLE_TAP_S


def draw_said() -> None:
    """The words about the last entry, where the eye is after the tap."""
    said: Said | None = st.session_state.get(SAID)
    if said is None:
        return
    if said.is_saved:
        st.success(literal(said.sentence), icon=":material/check_circle:")
    else:
        st.error(literal(said.sentence), icon=":material/error:")


def in_words(event: SiteEvent) -> str:
    """An entry as a person says it: `420 g wet, magnet, emitter 3`."""
    of = event.of
    match event.kind:
        case "catch":
            grams = f"{of['mass_g']:g} g {of.get('weighed', 'wet')}"
            return f"{grams}, {wording.plain(of['trap'])}, {place(of.get('focus_emitter_no'))}"
        case "reading":
            return wording.listed([f"{SHORT[name]} {of[name]:g} {UNITS[name]}".strip() for name in SHORT if name in of])
        case "focus":
            return f"flow on {place(of.get('focus_emitter_no'))}"
        case "change":
            heat, shaken, note = of.get("heat_source"), of.get("agitation"), of.get("note")
            said = [f"heat {wording.plain(heat)}" if heat else "", f"shaken {wording.plain(shaken)}" if shaken else ""]
            return ", ".join(part for part in (*said, note) if part)
        case "files":
            return f"{of['name']}, {wording.count(int(of['readings']), 'reading')}"
    return {"start": "job begun", "undo": "taken back", "finish": "job finished", "reopen": "job opened again"}.get(
        event.kind, event.kind
    )


SHORT = {
    "flow_l_min": "flow",
    "flow_temp_c": "flow",
    "return_temp_c": "return",
    "pressure_bar": "pressure",
    "turbidity_ntu": "turbidity",
    "conductivity_us_cm": "conductivity",
    "ph": "pH",
}
UNITS = {
    "flow_l_min": "L/min",
    "flow_temp_c": "°C",
    "return_temp_c": "°C",
    "pressure_bar": "bar",
    "turbidity_ntu": "NTU",
    "conductivity_us_cm": "µS/cm",
    "ph": "",
}


def place(emitter_no: int | None) -> str:
    """Where the flow is."""
    return "whole system" if emitter_no is None else f"emitter {emitter_no}"
